"""The page beside a session: where it is served, and the code that a phone scans."""

import sys
from dataclasses import dataclass
from ipaddress import ip_address
from typing import TYPE_CHECKING

from daemon.cli.options import check
from shared.errors import BadInputError, OutsideError

if TYPE_CHECKING:
    from pathlib import Path

    from daemon.faces.page import Page, Place
    from daemon.shell.counter import Counter

PORT = 8437
LINK = ".link"
"""What the name of a file with a page's link ends in."""


@dataclass(frozen=True, slots=True)
class PageAt:
    """What was asked for on the command line; address: "" for no page."""

    address: str = ""
    tls: bool = False


def place_of(wanted: PageAt) -> "Place | None":
    """Read where the page is to be served; None where none is.

    Raises:
        BadInputError: the address is none, or stands for all of this machine.
        OutsideError: there can be no certificate.
    """
    check(bool(wanted.address) or not wanted.tls, "--page-tls", "no page: --page ADDRESS")
    if not wanted.address:
        return None
    from platformdirs import user_data_path

    try:
        from daemon.faces.certificate import certificate_for
        from daemon.faces.page import Place
    except ModuleNotFoundError as error:
        missing = f"{error.name} is not installed"
        raise BadInputError("command line", "--page", missing, "pip install '.[page]'") from error

    host, port = _host_and_port(wanted.address)
    if not wanted.tls:
        return Place(host, port)
    certificate, digest = certificate_for(host, user_data_path("stillblade"))
    print(f"certificate of the page, SHA-256: {digest}", file=sys.stderr)
    return Place(host, port, certificate)


def _host_and_port(address: str) -> tuple[str, int]:
    good = "give ADDRESS or ADDRESS:PORT, like 192.168.4.1 or localhost:8437"
    host, port = address, str(PORT)
    if address.startswith("["):
        host, _, rest = address[1:].partition("]")
        port = rest.removeprefix(":") or port
    elif address.count(":") == 1:
        host, _, port = address.partition(":")
    check(port.isdecimal() and 0 < int(port) < 65536, "--page", f"no port: {port!r}", good)
    try:
        everywhere = ip_address(host).is_unspecified
    except ValueError:
        everywhere = False
        named = host.replace("-", "").replace(".", "")
        check(named.isalnum() and named.isascii(), "--page", f"no address: {host!r}", good)
    check(
        not everywhere,
        "--page",
        f"{host} is every address of this machine",
        "give the one that the phone reaches",
    )
    return host, int(port)


def page_of(desk: "Counter", place: "Place | None") -> "Page | None":
    """Return the page of a session; None where none is served."""
    if place is None:
        return None
    from daemon.faces.page import Page

    return Page(desk, place)


def show_link(place: "Place") -> None:
    """Say where a page is on which nobody can act."""
    print(f"page: {place.origin}/", file=sys.stderr)


def show_code(place: "Place") -> None:
    """Say where the page is, on standard error; the link with the token that lets a phone act.

    Only a terminal is shown that link. Anything else may be a log: it is told in which file the link stands,
    which its user alone may read.

    Raises:
        OutsideError: that file cannot be written.
    """
    if sys.stderr.isatty():
        import segno

        print(f"page: {place.link}", file=sys.stderr)
        segno.make(place.link, error="l").terminal(out=sys.stderr, compact=True)
        return
    show_link(place)
    print(f"page: the link of whoever acts is in {_kept(place)}", file=sys.stderr)


def _kept(place: "Place") -> "Path":
    """Write the link with the token where this user's services are; return the file."""
    from daemon.faces.addresses import folder, write_private

    path = folder() / f"page-{place.host.replace(':', '-')}-{place.port}{LINK}"
    try:
        write_private(path, f"{place.link}\n")
    except OSError as error:
        raise OutsideError(f"{path}: {error.strerror}", "make room for it") from error
    return path


def let_scan(place: "Place | None") -> None:
    """Show the code before a screen covers it, until its person has scanned it."""
    if place is None:
        return
    show_code(place)
    if sys.stdin is not None and sys.stdin.isatty():
        input("Scan the code or note the link, then press ENTER: the page comes with the screen. ")
