"""The sheet: every recorded number on it and no other, what is wrong in the largest type, nothing as markup."""

import hashlib
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.session.recording import Recording, read
from daemon.sheet.content import Sheet, sheet_of
from daemon.sheet.drawing import drawn
from daemon.sheet.entry import entry
from daemon.sheet.markup import html
from daemon.sheet.typeset import pdf
from shared.events import Alarm, Body, Cleared, Held, Judged, Summary
from tests.sheet import sheet_sessions
from tests.sheet.hub_sessions import head, three
from tests.simulated import simulated
from tests.whole.program import stillblade
from tests.workflow.jobs import Crew

GOLDEN = Path(__file__).parents[1] / "golden"
NEWEST = max(GOLDEN.glob("*.jsonl"))
NASTY = '<b>&#"\'$*_`= #include "x" \\ "'
"""What would be markup in HTML and in typst."""


@cache
def job() -> Recording:
    return read(NEWEST)


@cache
def given_up() -> Recording:
    return sheet_sessions.abandoned()


@cache
def two_alarms() -> Recording:
    return sheet_sessions.two_alarms()


def changed(result: str, state: str = "finished", **changes: object) -> Recording:
    """The newest golden session, ended in another way."""
    recording = job()
    last = recording.events[-1]
    assert isinstance(last.body, Summary)
    body = replace(last.body, result=result, state=state, **changes)  # type: ignore[arg-type]
    return replace(recording, events=[*recording.events[:-1], replace(last, body=body)])


def summary_of(recording: Recording) -> Summary:
    body = recording.events[-1].body
    assert isinstance(body, Summary)
    return body


def bodies(recording: Recording, kind: type[Body]) -> list[Body]:
    return [event.body for event in recording.events if isinstance(event.body, kind)]


def words_of(markup: str) -> str:
    """What a reader of the HTML sees."""
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_data(self, data: str) -> None:
            found.append(data)

    Reader().feed(re.sub(r"<style>.*?</style>", "", markup, flags=re.DOTALL))
    return " ".join(" ".join(found).split())


# --- what stands on it ----------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted(GOLDEN.glob("*.jsonl")), ids=lambda path: path.stem)
def test_every_blade_of_every_column_is_as_it_was_recorded(path: Path) -> None:
    recording = read(path)
    sheet = sheet_of(recording)
    judged = {}
    for body in bodies(recording, Judged):
        assert isinstance(body, Judged)
        judged[body.stage] = body
    assert len(sheet.columns) == 2 + len(judged)
    for column, body in zip(sheet.columns[1:-1], judged.values(), strict=True):
        at = sheet.columns.index(column)
        for row, one in zip(sheet.rows, body.blades, strict=True):
            assert row.cells[at].angle == f"{one['angle_deg']:.2f}"
            assert row.cells[at].u95 == f"± {one['u95_deg']:.2f}"
            assert row.cells[at].mark.lower().split()[0] in one["tolerance"]
    held = {body.blade: body for body in bodies(recording, Held) if isinstance(body, Held)}
    for row, one in zip(sheet.rows, summary_of(recording).blades, strict=True):
        assert row.cells[0].angle == f"{held[int(row.blade)].angle_deg:.2f}"
        assert row.cells[-1].angle == f"{one['angle_deg']:.2f}"


def test_every_alarm_stands_with_its_answer() -> None:
    sheet = sheet_of(job())
    alarms = [body for body in bodies(job(), Alarm) if isinstance(body, Alarm)]
    answers = {b.alarm: b for b in bodies(job(), Cleared) if isinstance(b, Cleared)}
    assert len(sheet.alarms) == len(alarms) >= 2
    for alarm, (said, answer, overruled) in zip(alarms, sheet.alarms, strict=True):
        assert alarm.say in said
        assert answers[alarm.id].by in answer
        assert overruled == (answers[alarm.id].how == "accept")


@pytest.mark.parametrize(
    ("recording", "heading", "concerned", "good"),
    [
        (job, "WITHIN", "", True),
        (lambda: changed("too close to say"), "TOO CLOSE TO SAY", "", False),
        (lambda: changed("open"), "OPEN", "", False),
        (lambda: changed("out"), "OUT", "the spread", False),
        (lambda: changed("abandoned", "abandoned, do not fly"), "DO NOT FLY", "", False),
        (lambda: replace(job(), events=job().events[:-1]), "OPEN", "", False),
    ],
)
def test_every_result_but_within_heads_the_page(
    recording: object, heading: str, concerned: str, good: bool
) -> None:
    assert callable(recording)
    sheet = sheet_of(recording())
    assert (sheet.heading, sheet.concerned, sheet.good) == (heading, concerned, good)
    text = html(sheet)
    assert f"<h1>{heading}" in text
    assert ('header class="within"' in text) == good


def test_the_blades_that_are_out_are_named_at_the_head() -> None:
    blades = [dict(one) for one in summary_of(job()).blades]
    blades[1]["tolerance"] = "out"
    sheet = sheet_of(changed("out", blades=blades))
    assert sheet.concerned == "blade 2 (white)"
    assert sheet.rows[1].cells[-1].mark == "OUT"


def test_a_job_that_was_given_up_says_by_whom_why_and_which_blades_are_in_doubt() -> None:
    sheet = sheet_of(given_up())
    assert (sheet.heading, sheet.concerned) == ("DO NOT FLY", "blade 2 (white)")
    why = "abandoned by Ada Merrow: the magneto's ground lead is broken. Do not fly."
    assert sheet.say == why, "and nothing of it twice"
    assert [answer for _, answer, _ in sheet.alarms] == ["NOT ANSWERED"]
    assert why in words_of(html(sheet))
    assert any(why in line for line in entry(sheet))


def test_a_job_ended_early_says_by_whom_and_why() -> None:
    early = sheet_sessions.Job("early")
    early.until("check")
    early.press("end", by="Tomas Quill", reason="dusk")
    sheet = sheet_of(early.recording())
    assert (sheet.heading, sheet.concerned) == ("OPEN", "")
    assert "ended early by Tomas Quill: dusk" in sheet.say


def test_two_alarms_an_accepted_blade_and_a_correction_stand_on_the_sheet() -> None:
    sheet = sheet_of(two_alarms())
    assert sheet.heading == "WITHIN"
    (_, accepted, overruled), (called, again, not_overruled) = sheet.alarms
    assert (overruled, not_overruled) == (True, False)
    assert "accepted by Ada Merrow: the strap slipped" in accepted
    assert "0.69 too coarse" in called
    assert "to be set again by Tomas Quill" in again
    assert sheet.rows[1].accepted.startswith("moved, accepted by Ada Merrow")
    said = [one.partition("  ")[2] for one in sheet.remarks]
    assert said == [
        "note: tools counted, two plugs out",
        "Tomas Quill works from here",
        "Slacken until blade 3, blue just turns by hand.",
    ]
    assert [what for _, _, what in sheet.torque].count(
        "Each of the 6 hub bolts to 22.0 N·m (2 of 2)"
    ) == 2


def test_a_column_shows_what_was_read_in_it_and_no_older_number() -> None:
    """A round of one clamp reads its own blades; the spread of the set is of none of them."""
    rounds = ["snug", "nip", "torque", "final"]
    crew = Crew(head("2031-04-02", "1", clamps=[[1], [2]], order="clamp by clamp", rounds=rounds))
    while crew.step()[0] != "torque":
        stage, blade = crew.step()
        if blade is None:
            crew.press("done")
        elif stage == "reference":
            crew.on_hub_face()
        else:
            crew.on_blade(blade)
    crew.end()
    sheet = sheet_of(Recording(crew.header, crew.inputs, crew.events))
    assert sheet.columns == ["as set", "nip 1", "nip 2", "result"]
    read = [[bool(cell.angle) for cell in row.cells] for row in sheet.rows]
    assert read == [[True, True, False, True], [True, False, True, True]]
    assert sheet.spreads[:3] == ["", "", ""]
    assert sheet.spreads[3] != ""


def test_what_was_found_comes_before_what_was_set() -> None:
    assert sheet_of(three()[2]).columns == ["as found", "as set", "hub", "last", "result"]


def test_an_answer_by_the_level_turned_over_names_nobody() -> None:
    alarms = sheet_of(simulated("hands-free", 8).recording).alarms
    assert [answer.partition("  ")[2] for _, answer, _ in alarms] == [
        "to be set again by the level turned over"
    ]


def test_what_was_overruled_stands_beside_its_verdict() -> None:
    blades = [dict(one) for one in summary_of(job()).blades]
    blades[0]["tolerance"] = "out"
    blades[0]["accepted"] = [{"kind": "moved", "by": "Ada Merrow", "reason": "measured twice"}]
    sheet = sheet_of(changed("out", blades=blades))
    words = "moved, accepted by Ada Merrow: measured twice"
    assert sheet.rows[0].accepted == words
    assert sheet.rows[0].cells[-1].mark == "OUT"
    assert words in words_of(html(sheet))
    assert any("OVERRULED" in line and words in line for line in entry(sheet))


def test_the_hash_is_that_of_the_text_form() -> None:
    text = stillblade("text", str(NEWEST)).stdout
    assert sheet_of(job()).digest == hashlib.sha256(text.encode()).hexdigest()


def test_it_signs_nothing_off() -> None:
    sheet = sheet_of(job())
    assert "signs nothing off" in sheet.caution
    assert "signs nothing off" in entry(sheet)[-1]


def test_a_session_that_only_watched_or_read_nothing_has_a_sheet() -> None:
    for recording in (replace(job(), events=job().events[:2]), replace(job(), events=[])):
        sheet = sheet_of(recording)
        assert sheet.heading == "OPEN"
        assert html(sheet)
        assert pdf(sheet).startswith(b"%PDF")
        assert entry(sheet)


# --- its forms ------------------------------------------------------------------------------------


def numbers(sheet: Sheet) -> set[str]:
    found = {part for row in sheet.rows for cell in row.cells for part in (cell.angle, cell.u95)}
    return {part for part in found if part} | {part for part in sheet.spreads if part}


def test_the_html_shows_every_number_and_asks_nobody() -> None:
    sheet = sheet_of(job())
    markup = html(sheet)
    words = words_of(markup)
    assert all(number in words for number in numbers(sheet))
    outside = re.sub(r'xmlns="[^"]*"', "", markup)
    assert not re.search(r"https?://|<script|<link|src=", outside)


def nasty() -> Recording:
    recording = job()
    job_ = recording.header.job.model_copy(update={"name": NASTY, "notes": NASTY, "manual": NASTY})
    header = recording.header.model_copy(update={"job": job_})
    return replace(recording, header=header)


def test_what_people_wrote_is_words_and_never_markup() -> None:
    sheet = sheet_of(nasty())
    assert words_of(html(sheet)).count(" ".join(NASTY.split())) == 3
    assert "<b>" not in html(sheet)
    assert pdf(sheet).startswith(b"%PDF")


def test_the_same_session_gives_the_same_bytes() -> None:
    assert pdf(sheet_of(job())) == pdf(sheet_of(read(NEWEST)))
    assert pdf(sheet_of(job())) != pdf(sheet_of(job()), "letter")
    assert html(sheet_of(job())) == html(sheet_of(read(NEWEST)))


def test_the_drawing_puts_every_blade_where_it_stands() -> None:
    """A bar's middle lies on the way from the target to the edge of the band as its error does."""
    sheet = sheet_of(job())
    svg = ET.fromstring(drawn(sheet.bars, sheet.tolerance_deg))
    space = "{http://www.w3.org/2000/svg}"
    band = svg.find(f"{space}rect")
    assert band is not None
    low = float(band.attrib["x"])
    half = float(band.attrib["width"]) / 2
    dots = [float(dot.attrib["cx"]) for dot in svg.findall(f"{space}circle")]
    assert len(dots) == len(sheet.bars) == 3
    for x, bar in zip(dots, sheet.bars, strict=True):
        assert (x - low - half) / half == pytest.approx(
            bar.error_deg / sheet.tolerance_deg, abs=0.01
        )
    lines = svg.findall(f"{space}line")[1:]
    for one, bar in zip(lines, sheet.bars, strict=True):
        width = float(one.attrib["x2"]) - float(one.attrib["x1"])
        assert width / (2 * half) == pytest.approx(bar.u95_deg / sheet.tolerance_deg, abs=0.01)


# --- the command ----------------------------------------------------------------------------------


def test_it_is_written_beside_the_session_and_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = tmp_path / "a.jsonl"
    shutil.copy(NEWEST, session)
    assert main(["sheet", str(session)]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'a.pdf'}: WITHIN\n"
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")
    assert main(["sheet", str(session), "--html", "--out", str(tmp_path / "b.html")]) == 0
    assert (tmp_path / "b.html").read_text("utf-8").startswith("<!doctype html>")
    assert main(["entry", str(session)]) == 0
    assert "Blade 1 (red): 2" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["sheet", "gone.session"], 2),
        (["sheet", "{session}", "--out", "{session}"], 2),
        (["sheet", "{session}", "--out", "{folder}/no/where.pdf"], 3),
        (["sheet", "{session}", "--paper", "a3"], 2),
        (["entry", "{damaged}"], 2),
    ],
)
def test_what_cannot_be_is_said(tmp_path: Path, words: Sequence[str], code: int) -> None:
    session, damaged = tmp_path / "a.jsonl", tmp_path / "b.jsonl"
    shutil.copy(NEWEST, session)
    damaged.write_text(session.read_text("utf-8").replace('"n": 7', '"n": x', 1), "utf-8")
    places = {"session": session, "damaged": damaged, "folder": tmp_path}
    before = session.read_bytes()
    assert main([word.format(**places) for word in words]) == code
    assert session.read_bytes() == before


# --- real ------------------------------------------------------------------------------------------


def printed(tmp_path: Path, recording: Recording) -> tuple[str, dict[str, str], str]:
    """Return text, facts and fonts of a PDF as poppler has them."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf(sheet_of(recording)))

    def told(*words: str) -> str:
        return subprocess.run(
            [*words], check=True, capture_output=True, text=True, timeout=60
        ).stdout

    facts = {
        name: value.strip()
        for name, _, value in (
            line.partition(":") for line in told("pdfinfo", str(path)).splitlines()
        )
    }
    text = " ".join(told("pdftotext", "-layout", str(path), "-").split())
    return text, facts, told("pdffonts", str(path))


@pytest.mark.real
def test_poppler_finds_one_page_every_number_and_every_font(tmp_path: Path) -> None:
    sheet = sheet_of(job())
    text, facts, fonts = printed(tmp_path, job())
    assert facts["Pages"] == "1"
    assert "595.276 x 841.89" in facts["Page size"]
    assert "CreationDate" not in facts
    assert [number for number in numbers(sheet) if number not in text] == []
    assert sheet.digest in text
    for line in fonts.splitlines()[2:]:
        assert line.split()[-5] == "yes", line  # embedded


@pytest.mark.real
@pytest.mark.parametrize("made", [given_up, two_alarms])
def test_poppler_finds_one_page_of_a_job_given_up_and_of_one_with_a_correction(
    tmp_path: Path, made: Callable[[], Recording]
) -> None:
    sheet = sheet_of(made())
    text, facts, _ = printed(tmp_path, made())
    assert facts["Pages"] == "1"
    assert [number for number in numbers(sheet) if number not in text] == []
    assert " ".join(sheet.say.split()) in text
    assert sheet.concerned in text


@pytest.mark.real
@pytest.mark.parametrize(
    ("scenario", "seed"), [("default", 2), ("tighten-alike", 1), ("knock-behind-the-check", 1)]
)
def test_the_sheet_of_a_job_with_alarms_fits(tmp_path: Path, scenario: str, seed: int) -> None:
    recording = simulated(scenario, seed).recording
    text, facts, _ = printed(tmp_path, recording)
    assert facts["Pages"] == "1"
    for alarm in bodies(recording, Alarm):
        assert isinstance(alarm, Alarm)
        assert alarm.say.split(";")[0][:25] in text


@pytest.mark.real
def test_words_of_people_are_printed_as_they_are(tmp_path: Path) -> None:
    text, _, _ = printed(tmp_path, nasty())
    assert text.replace("”", '"').replace("“", '"').count('<b>&#"') >= 2


def test_every_pass_that_was_said_to_be_done_stands_on_the_sheet_and_none_that_was_taken_back() -> (
    None
):
    from tests.workflow.test_procedure import TORQUED, to_the_bolts

    crew = to_the_bolts(**TORQUED)
    for kind in ("done", "done", "done", "back", "done"):
        crew.press(kind)
    recording = Recording(crew.header, crew.inputs, crew.events)
    done = [(round_, what) for _, round_, what in sheet_of(recording).torque]
    assert done == [
        ("torque", "a second person read the wrench: 22.0 N·m"),
        ("torque", "Each of the 4 hub bolts to 22.0 N·m (1 of 3)"),
        ("torque", "Each of the 6 rim bolts to 6.0 N·m (2 of 3)"),
    ]


def test_the_parts_the_order_and_the_wrench_stand_on_the_sheet() -> None:
    facts = dict(sheet_of(simulated("two-rings", 1).recording).facts)
    assert facts["Order of work"] == "Manual of an invented propeller, revision 2, page 7"
    assert facts["Wrench"] == "wrench 3, 5 to 50 N·m, calibrated until 2027-03"
