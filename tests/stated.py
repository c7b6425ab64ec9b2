"""What the pages say, for tests that hold a constant against the sentence that states it."""

from pathlib import Path

DOCS = Path(__file__).parent.parent / "docs"
WORDS = {
    0.05: "a twentieth of",
    0.1: "a tenth",
    0.5: "half",
    1: "one",
    1.5: "one and a half",
    2: "two",
    2.5: "two and a half",
    3: "three",
    4: "four",
    5: "five",
    6: "six",
    8: "eight",
    10: "ten",
    12: "twelve",
    20: "twenty",
}


def page(name: str) -> str:
    """Return a page of the docs as one line; name: without its ending."""
    return " ".join((DOCS / f"{name}.md").read_text("utf-8").split())


def word(number: float) -> str:
    """Return a number as the pages write it out; one they do not write out as its digits."""
    return WORDS.get(number, f"{number:g}")
