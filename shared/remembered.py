"""What a face remembers of the events: readings that count, where blades were, the end. Pure."""

from dataclasses import dataclass, field, replace

from shared.displays import Heard
from shared.events import (
    Asked,
    Assigned,
    BladeId,
    Body,
    Captured,
    Held,
    Judged,
    Summary,
    Verdict,
    Watched,
    Withdrawn,
)


@dataclass(slots=True)
class Remembered:
    """A fold of the events, the same for every face.

    Attributes:
        readings: those that count, oldest first.
        was_deg: where each blade was before the round that is being read.
        summary: of a session that has ended.
        taken_back: one was withdrawn since the last was taken.
        asked: the newest question.
        read_since: blades that were read since a verdict on them: its change is of an older reading.
        watched_deg: by how much a watch saw each blade turn, coarser above zero.
    """

    readings: list[Captured] = field(default_factory=list)
    was_deg: dict[BladeId, float] = field(default_factory=dict)
    summary: Summary | None = None
    taken_back: bool = False
    asked: Asked | None = None
    read_since: set[BladeId] = field(default_factory=set)
    watched_deg: dict[BladeId, float] = field(default_factory=dict)

    def fold(self, body: Body) -> bool:
        """Take what the next event says; True where it changes what is remembered."""
        match body:
            case Captured():
                self.readings.append(body)
                self.read_since |= {body.blade} if body.blade is not None else set()
                self.taken_back = False
            case Assigned():
                self.readings = [
                    replace(one, blade=body.blade) if one.id == body.id else one
                    for one in self.readings
                ]
            case Withdrawn():
                self.readings = [one for one in self.readings if one.id != body.id]
                self.taken_back = True
            case Verdict():
                self.read_since.discard(body.blade)
            case Held():
                self.was_deg[body.blade] = body.angle_deg
            case Judged():
                angles = {row["blade"]: row["angle_deg"] for row in body.blades}
                self.was_deg |= {blade: deg for blade, deg in angles.items() if deg is not None}
            case Watched():
                self.watched_deg[body.blade] = body.change_deg
            case Asked():
                self.asked = body
            case Summary():
                self.summary = body
            case _:
                return False
        return True

    @property
    def heard(self) -> Heard:
        """What a display is drawn from beside the view."""
        taken = self.readings[-1] if self.readings else None
        was = self.was_deg.get(taken.blade) if taken and taken.blade is not None else None
        return Heard(taken, self.summary, was, self.taken_back, self.asked, self.watched_deg)
