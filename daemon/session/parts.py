"""The parts of a hub: what a job leaves out is taken from the last session, what is otherwise is said. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from shared.job import Propeller

REMEMBERED = {
    "labels": "names of the sockets",
    "serials": "serial numbers of the blades",
    "halves": "hub halves",
    "match_marks": "match marks",
    "shims": "shims",
}
"""Keys of [propeller] that are asked for once, and what they are called. Damage is not among them: what
was found the last time says nothing of today."""


@dataclass(frozen=True, slots=True)
class Known:
    """A hub as its sessions left it: the propeller with its parts, and the day, for people, of the last."""

    propeller: Propeller
    when: str


def filled(now: Propeller, then: Propeller) -> Propeller:
    """Return the propeller with what it leaves out as it was then; of another number of blades nothing."""
    if now.blades != then.blades:
        return now
    return now.model_copy(update={key: getattr(then, key) for key in _left_out(now, then)})


def taken_over(now: Propeller, then: Propeller, when: str) -> str:
    """Return in words what `filled` takes from then; "" where that is nothing."""
    if now.blades != then.blades:
        return ""
    named = [f"{REMEMBERED[key]} {', '.join(getattr(then, key))}" for key in _left_out(now, then)]
    if not named:
        return ""
    return (
        f"not in the job and taken over from {when}: {'; '.join(named)}: look whether they are so"
    )


def otherwise(now: Propeller, then: Propeller, when: str) -> Iterator[str]:
    """Yield in words what of a hub is otherwise now than it was then: a blade's socket, the hand of rotation."""
    for what, one, other in (
        ("hand of rotation", now.rotation, then.rotation),
        ("layout", now.layout, then.layout),
        ("number of blades", str(now.blades), str(then.blades)),
    ):
        if one != other:
            yield f"{what}: {one}; on {when} it was {other}"
    yield from _blades(now.serials, then.serials, when)
    for key, what in REMEMBERED.items():
        one, other = ", ".join(getattr(now, key)), ", ".join(getattr(then, key))
        if key != "serials" and one != other and other:
            yield f"{what}: {one or 'none named'}; on {when} they were {other}"
    if then.damage and not now.damage:
        yield f"damage looked for on {when}: {then.damage}; the job says nothing of today"


def _blades(now: list[str], then: list[str], when: str) -> Iterator[str]:
    """Yield in words which blades are in another socket, or were not on this hub."""
    was_in = {serial: socket for socket, serial in enumerate(then, 1)}
    for socket, serial in enumerate(now, 1):
        before = was_in.get(serial)
        if before not in {None, socket}:
            yield f"blade {serial} is in socket {socket}, and was in socket {before} on {when}"
        elif then and before is None:
            yield f"blade {serial} in socket {socket} was not on this hub on {when}"
    if then and not now:
        named = ", ".join(f"{socket}: {serial}" for serial, socket in was_in.items())
        yield f"the job names no serial numbers; on {when} the sockets had {named}"


def _left_out(now: Propeller, then: Propeller) -> list[str]:
    return [key for key in REMEMBERED if getattr(then, key) and not getattr(now, key)]
