"""What kind of place a level's `port` names: a port, a serial server, or an address in the air."""

import re

_HEX = "[0-9A-Fa-f]"
_ADDRESS = re.compile(
    rf"(?:{_HEX}{{2}}:){{5}}{_HEX}{{2}}|{_HEX}{{8}}(?:-{_HEX}{{4}}){{3}}-{_HEX}{{12}}"
)
"""A device address, or the UUID by which macOS knows a device."""
_SERVER = re.compile(r"socket://(?:\[[0-9A-Fa-f:.%]+\]|[^\[\]:/\s]+):[0-9]{1,5}")


def is_address(where: str) -> bool:
    """Tell whether this is how a Bluetooth device is named."""
    return _ADDRESS.fullmatch(where) is not None


def is_server(where: str) -> bool:
    """Tell whether this is the URL of a serial server: `socket://host:port`."""
    return "://" in where


def names_a_server(url: str) -> bool:
    """Tell whether a URL names host and port in the one way that is known."""
    return _SERVER.fullmatch(url) is not None
