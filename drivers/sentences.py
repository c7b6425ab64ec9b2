"""What a person is told when a link fails: one sentence each, with what to do about it.

Pure functions of facts. The links use them as the reason of `down`.
"""

from collections.abc import Iterable


def no_port(level: str) -> str:
    """The job names no port or address."""
    return (
        f"no port is given for level {level}: put port = ... under its [[level]] in the job; "
        f"`stillblade levels scan` lists what is there"
    )


def port_missing(port: str) -> str:
    """The port does not exist."""
    return f"{port} is not there: plug the level or its adapter in, or correct port in the job"


def port_busy(port: str) -> str:
    """Another program holds the port."""
    return f"{port} is in use by another program: close that one"


def port_forbidden(port: str, group: str) -> str:
    """The user may not open the port. group: owner group of the device, or ""."""
    if group:
        return (
            f"no permission to open {port}: join group {group} "
            f"(sudo usermod -aG {group} $USER, then log in again)"
        )
    return f"no permission to open {port}: ask for read and write access to it"


def port_failed(port: str, why: str) -> str:
    """Anything else the operating system said about the port."""
    return f"{port} cannot be used ({why}): unplug it, plug it in again"


def not_a_port(port: str) -> str:
    """The path is a file, a folder or a device of another kind."""
    return f"{port} is no serial port: `stillblade levels scan` lists the ports; correct port in the job"


def setting_refused(port: str, why: str) -> str:
    """The port exists and cannot be set as the profile wants."""
    return (
        f"{port} cannot be set so ({why}): "
        f"write the baud, parity and stop_bits that it knows into the profile"
    )


def address_for_a_port(address: str) -> str:
    """A level on a wire was given a Bluetooth address."""
    return (
        f"{address} is a Bluetooth address, and this level's profile talks on a serial line: "
        f"correct port in the job, or take a profile with a Bluetooth link"
    )


def port_for_an_address(port: str) -> str:
    """A Bluetooth level was given something that is no address."""
    return (
        f"{port} is no Bluetooth address, and this level's profile talks over Bluetooth: "
        f"`stillblade levels scan` shows addresses; correct port in the job"
    )


def server_failed(url: str, why: str) -> str:
    """A serial server on the network cannot be reached, or ended the connection."""
    return (
        f"{url} cannot be reached ({why}): switch the serial server on, or correct port in the job"
    )


def no_server(url: str) -> str:
    """It looks like the URL of a serial server, and names none."""
    return f"{url} names no serial server: write socket://HOST:PORT, and correct port in the job"


def unplugged(port: str) -> str:
    """The port went away while it was open."""
    return f"{port} was unplugged: plug it in again, work goes on by itself"


def not_answering(what: str, seconds: float) -> str:
    """A call to the outside did not return in time."""
    return f"{what} did not answer in {seconds:g} s: trying again"


def wrong_speed(baud: int, seconds: float) -> str:
    """Bytes arrive and none of them is a frame: nearly always the line speed."""
    return (
        f"no valid frames in {seconds:g} s at {baud}: "
        f"set baud and parity of this level's profile to what the level sends"
    )


def wrong_fields(seconds: float, refused: Iterable[str]) -> str:
    """What arrives is whole, so the speed is right, and gives no angle. refused: why not."""
    reasons = "refused: " + ", ".join(sorted(refused)) if refused else ""
    return (
        f"what arrives is readable, and none of it gave an angle in {seconds:g} s "
        f"({reasons or 'no line or frame as the profile describes it'}): correct fields and "
        f"format.options of this level's profile; speed and parity are right"
    )


def wrong_format(seconds: float) -> str:
    """Bytes arrive over the air and none of them is a frame."""
    return f"no valid frames in {seconds:g} s: this level does not send what its profile describes"


def no_reply(unit: int, port: str) -> str:
    """A Modbus unit does not answer its polls."""
    return (
        f"unit {unit} on {port} does not answer: "
        f"check its address, line speed and the two wires (A and B may be exchanged)"
    )


def bluetooth_off(adapter: str = "") -> str:
    """There is an adapter and it is switched off."""
    name = f" ({adapter})" if adapter else ""
    return f"Bluetooth is off{name}: switch it on (bluetoothctl power on, rfkill unblock bluetooth)"


def no_adapter() -> str:
    """The Bluetooth service runs and has no adapter."""
    return "no Bluetooth adapter: plug one in"


def no_bluetooth_service() -> str:
    """Nobody owns org.bluez."""
    return "the Bluetooth service is not running: start it (sudo systemctl start bluetooth)"


def no_bus() -> str:
    """The system has no D-Bus to ask for Bluetooth."""
    return (
        "there is no system D-Bus, so Bluetooth cannot be reached: start it "
        "(sudo systemctl start dbus), or use a level on a wire"
    )


def bus_forbidden() -> str:
    """The bus policy does not let this user speak with org.bluez."""
    return (
        "no permission to use Bluetooth: the D-Bus policy for org.bluez wants this user in "
        "group bluetooth (sudo usermod -aG bluetooth $USER, then log in again)"
    )


def not_in_the_air(address: str) -> str:
    """No advertisement of the device was heard."""
    return (
        f"{address} is not heard: switch the level on, bring it nearer, "
        f"and close any other program or phone that holds it"
    )


def link_lost(address: str) -> str:
    """The device or the air ended the connection."""
    return f"the connection to {address} was lost: reconnecting"


def no_data(address: str, seconds: float) -> str:
    """The connection claims to be up and brings nothing."""
    return f"{address} sent nothing for {seconds:g} s though connected: reconnecting"


def no_characteristic(address: str, uuid: str) -> str:
    """The device lacks what the profile says it has."""
    return (
        f"{address} has no characteristic {uuid}: wrong profile for this level, "
        f"or another level at this address"
    )


def connect_failed(address: str, why: str) -> str:
    """Anything else Bluetooth said about a connection."""
    return f"cannot connect to {address} ({why}): trying again; switch the level off and on if it lasts"
