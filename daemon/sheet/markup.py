"""The sheet as one HTML file, for a screen and for printing from it. Pure."""

from collections.abc import Iterable
from html import escape

from daemon.sheet.columns import Cell
from daemon.sheet.content import Sheet
from daemon.sheet.drawing import drawn

STYLE = """
body { font: 14px/1.4 Georgia, "Times New Roman", serif; max-width: 60em; margin: 1.5em auto; padding: 0 1em; }
header { border: 3px solid; padding: .4em .8em; } header.within { color: #00561c; } header.not { color: #a30000; }
h1 { margin: 0; font-size: 2.6em; } header p { color: #000; margin: .2em 0; }
table { border-collapse: collapse; width: 100%; margin: .8em 0; }
td, th { border: 1px solid #888; padding: .25em .5em; text-align: left; vertical-align: top; }
.bad { color: #a30000; font-weight: bold; } dl { display: grid; grid-template-columns: auto 1fr; gap: .1em 1em; }
dt { font-weight: bold; } dd { margin: 0; } .blank { border-bottom: 1px solid; height: 3em; }
footer { font-size: .8em; overflow-wrap: anywhere; } svg { max-width: 100%; height: auto; }
"""


def html(sheet: Sheet) -> str:
    """Return the sheet as one HTML file that asks nobody for anything."""
    kind = "within" if sheet.good else "not"
    concerned = f" {escape(sheet.concerned)}" if sheet.concerned else ""
    facts = [*sheet.facts, ("Reference", sheet.reference)]
    facts += [(f"Level {name}", words) for name, words in sheet.levels]
    facts += [("Against last time", words) for words in sheet.otherwise]
    facts += [("People", sheet.people)] if sheet.people else []
    parts = [
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
        f"<title>Blade angles: {escape(sheet.heading)}</title><style>{STYLE}</style></head><body>",
        f'<header class="{kind}"><h1>{escape(sheet.heading)}{concerned}</h1>',
        f"<p>{escape(sheet.say)}</p></header>",
        "<dl>",
        *[f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>" for name, value in facts],
        "</dl>",
        _angles(sheet),
        *[
            f'<p class="bad">Blade {escape(row.blade)} overruled: {escape(row.accepted)}</p>'
            for row in sheet.rows
            if row.accepted
        ],
        drawn(sheet.bars, sheet.tolerance_deg) if sheet.bars else "",
        f"<h2>Trial flights</h2>{sheet.flights}" if sheet.flights else "",
        _list(
            "Done with the hands, as said",
            [f"{at} {round_}: {what}" for at, round_, what in sheet.torque],
        ),
        _alarms(sheet),
        _list("Remarks", sheet.remarks),
        *[f'<p class="blank">{escape(name)}</p>' for name in sheet.blanks],
        f"<p><em>{escape(sheet.caution)}</em></p>",
        f"<footer>Session {escape(sheet.session)}. SHA-256 of its text form: {sheet.digest}</footer>",
        "</body></html>\n",
    ]
    return "\n".join(part for part in parts if part)


def _angles(sheet: Sheet) -> str:
    head = "".join(
        f"<th>{escape(name)}</th>" for name in ("Blade", "Mark", "Serial", *sheet.columns)
    )
    rows = [
        "<tr>"
        + "".join(f"<td>{escape(text)}</td>" for text in (row.blade, row.mark, row.serial))
        + "".join(map(_cell, row.cells))
        + "</tr>"
        for row in sheet.rows
    ]
    spreads = "".join(f"<td>{escape(spread)}</td>" for spread in sheet.spreads)
    foot = f'<tr><th colspan="3">Spread</th>{spreads}</tr>'
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}{foot}</tbody></table>"


def _cell(cell: Cell) -> str:
    if not cell.angle:
        return "<td>not read</td>"
    kind = "" if cell.mark == "in" else ' class="bad"'
    return f"<td>{cell.angle} {cell.u95}<br><span{kind}>{escape(cell.mark)}</span></td>"


def _alarms(sheet: Sheet) -> str:
    if not sheet.alarms:
        return ""
    rows = [
        f"<tr><td>{escape(said)}</td><td>"
        + (f"<strong>{escape(answer)}</strong>" if overruled else escape(answer))
        + "</td></tr>"
        for said, answer, overruled in sheet.alarms
    ]
    return f"<h2>Alarms</h2><table><tbody>{''.join(rows)}</tbody></table>"


def _list(title: str, lines: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<h2>{title}</h2><ul>{items}</ul>" if items else ""
