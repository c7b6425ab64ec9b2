"""The confusion table of many jobs: how often each case came, with exact 95 % bounds."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from simulator.bounds import exact_bounds
from simulator.outcome import Kind, Row

QUESTIONS: tuple[tuple[str, Kind, tuple[Kind, ...]], ...] = (
    ("a moved blade was called", "called", ("called", "missed")),
    ("a moved blade was missed", "missed", ("called", "missed")),
    ("an untouched blade was accused", "accused", ("accused", "left alone")),
    (
        "the same, in jobs in which something shifted",
        "shift blamed",
        ("shift blamed", "shift not blamed"),
    ),
    ("a shift was laid to the reference", "shift seen", ("shift seen", "shift unseen")),
    (
        "the reference was blamed for nothing",
        "reference blamed",
        ("reference blamed", "reference cleared"),
    ),
    (
        "steady, but moved beyond what it said could hide",
        "steady but moved",
        ("steady", "steady but moved"),
    ),
    (
        "a reading lay outside its stated uncertainty",
        "measured outside",
        ("measured", "measured outside"),
    ),
)
"""What is asked, the case that answers yes, and all cases it is asked of."""


@dataclass(frozen=True, slots=True)
class Rate:
    """One line of the table: `count` of `of` cases, with exact bounds of the proportion."""

    what: str
    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The proportion seen; 0 where there was no case."""
        return self.count / self.of if self.of else 0.0


def counts(rows: Iterable[Row]) -> dict[Kind, int]:
    """Count the rows of each kind."""
    return dict(Counter(row.kind for row in rows))


def rates(rows: Iterable[Row], confidence: float = 0.95) -> list[Rate]:
    """Return the table of all questions, in their order; bounds are 0 and 1 without cases."""
    seen = counts(rows)
    lines: list[Rate] = []
    for what, yes, asked_of in QUESTIONS:
        of = sum(seen.get(kind, 0) for kind in asked_of)
        count = seen.get(yes, 0)
        lines.append(Rate(what, count, of, *exact_bounds(count, of, confidence)))
    return lines
