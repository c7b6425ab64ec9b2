"""The sheet as a PDF: the same bytes for the same session, with every font in it."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal

import typst

from daemon.sheet.content import Sheet
from daemon.sheet.drawing import drawn

TEMPLATE = Path(__file__).parent / "sheet.typ"
Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}


def pdf(sheet: Sheet, paper: Paper = "a4") -> bytes:
    """Return the sheet as a PDF; what people wrote is data and never markup."""
    told: dict[str, Any] = asdict(sheet) | {
        "paper": PAPERS[paper],
        "drawing": drawn(sheet.bars, sheet.tolerance_deg) if sheet.bars else "",
    }
    made = typst.compile(
        TEMPLATE.read_bytes(),
        format="pdf",
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(told)},
    )
    assert isinstance(made, bytes)
    return made
