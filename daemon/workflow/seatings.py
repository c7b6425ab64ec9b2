"""What a session's own readings teach about how well a level finds its seat again."""

from daemon.measure.stream.learning import SeatingStudy
from daemon.workflow.agreement import disagreement_deg
from daemon.workflow.ledger import ON_ONE_SEAT, Entry, Ledger
from shared.profile import Seating


def seatings(ledger: Ledger) -> dict[str, Seating]:
    """Return the seating of each level that was laid twice or more on one seat.

    What lifting the level turns is in it. Placements that disagree do not count.
    """
    groups: dict[tuple[object, ...], list[Entry]] = {}
    for entry in ledger.entries:
        if entry.stage in ON_ONE_SEAT and not entry.withdrawn:
            key = (entry.level, entry.sense, entry.blade, entry.half, entry.stage, entry.passed)
            groups.setdefault(key, []).append(entry)
    studies: dict[str, SeatingStudy] = {}
    for entries in groups.values():
        if disagreement_deg(entries) is None:
            study = studies.setdefault(entries[0].level, SeatingStudy())
            study.add([entry.reading for entry in entries])
    found = {level: study.seating(fewest=1) for level, study in studies.items()}
    return {level: one for level, one in found.items() if one is not None}
