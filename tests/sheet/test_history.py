"""One hub over the years: a drift that was put in is found, noise is not called a difference."""

import functools
import json
import sqlite3
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.__main__ import main
from daemon.cli.before import before
from daemon.session.recording import Recording, read
from daemon.session.store import Store
from daemon.sheet.history_drawn import in_characters, plotted
from daemon.sheet.pulls import pulls_of
from daemon.sheet.settings_of_hub import (
    Setting,
    between,
    compared,
    differences,
    from_data,
    left_before,
    not_alike,
    setting_of,
    to_data,
    told,
)
from daemon.sheet.shelf import INDEX, settings_in
from shared.events import Judged, Summary
from tests.sheet import hub_sessions
from tests.workflow.jobs import Crew

GOLDEN = max((Path(__file__).parents[1] / "golden").glob("*.jsonl"))
DATES = ("2031-04-02", "2031-09-20", "2032-03-11")


@functools.cache
def golden() -> Recording:
    return read(GOLDEN)


def session(number: int, drift_deg: float = 0.0, hub: str = "H-77") -> Recording:
    """The newest golden session as it would be of this date, with every final angle so far off."""
    recording = golden()
    header = recording.header
    job = header.job.model_copy(
        update={
            "hours": f"{100 + 40 * number}.5",
            "propeller": header.job.propeller.model_copy(update={"hub": hub}),
        }
    )
    started = f"{DATES[number]}T09:00:00+00:00"
    header = header.model_copy(update={"job": job, "started": started, "session": f"s{number}"})
    last = recording.events[-1]
    assert isinstance(last.body, Summary)
    blades = [{**one, "angle_deg": one["angle_deg"] + drift_deg} for one in last.body.blades]
    body = replace(last.body, blades=blades)
    events = [*recording.events[:-1], replace(last, body=body)]
    return replace(recording, header=header, events=events)


@functools.cache
def setting(number: int, drift_deg: float = 0.0, hub: str = "H-77") -> Setting:
    found = setting_of(f"s{number}.session", session(number, drift_deg, hub))
    assert found is not None
    return found


def of(one: Setting, **propeller: object) -> Setting:
    """The setting, of another propeller."""
    return replace(one, propeller=one.propeller.model_copy(update=propeller))


def stored(folder: Path, *recordings: Recording) -> None:
    for number, one in enumerate(recordings):
        store = Store.create(folder / f"job-{number}.session", one.header)
        store.commit(one.inputs, one.events, one.reach_ns)
        store.close()


# --- differences ----------------------------------------------------------------------------------


def test_a_drift_that_was_put_in_is_found_and_none_is_not() -> None:
    same = differences(setting(0), setting(1))
    assert [each.proven for each in same] == [False] * 3
    moved = differences(setting(0), setting(1, -0.4))
    assert [each.proven for each in moved] == [True] * 3
    assert all(each.deg == pytest.approx(-0.4) for each in moved)
    assert "0.40 ± 0.08 finer" in "\n".join(compared(setting(0), setting(1, -0.4)))


@given(st.floats(-1, 1), st.floats(0.01, 0.5), st.floats(0.01, 0.5))
def test_proven_is_more_than_both_uncertainties_together(
    deg: float, first: float, second: float
) -> None:
    """In quadrature: JCGM 100:2008, 5.1.2, the combined uncertainty of a difference."""
    one = replace(setting(0), angles={1: (20.0, first)})
    other = replace(setting(1), angles={1: (20.0 + deg, second)})
    (found,) = differences(one, other)
    assert found.u95_deg == pytest.approx((first**2 + second**2) ** 0.5)
    assert found.proven == (abs(other.angles[1][0] - 20.0) > found.u95_deg)


def test_what_is_not_alike_is_said() -> None:
    other = of(setting(1), hub="H-78", station="150 mm in", serials=["Q-101", "Z-9", "Q-103"])
    words = "\n".join(not_alike(setting(0), other))
    assert "not the same hub: H-77, then H-78" in words
    assert "not the same station" in words
    assert "another blade in socket 2: Q-102, then Z-9" in words
    assert "socket 1" not in words
    assert "hand of rotation" not in words
    assert not_alike(setting(0), setting(1)) == []


@pytest.mark.parametrize(
    ("propeller", "said"),
    [
        (
            {"rotation": "anticlockwise"},
            "not the same hand of rotation: clockwise, then anticlockwise",
        ),
        ({"layout": "pusher"}, "not the same layout: tractor, then pusher"),
    ],
)
def test_another_hand_of_rotation_or_side_is_said(propeller: dict[str, str], said: str) -> None:
    assert not_alike(setting(0), of(setting(1), **propeller)) == [said]


PARTS = {
    "halves": ["M-1", "M-2"],
    "match_marks": ["A", "B", "C"],
    "shims": ["none", "none", "0.1 mm"],
}


def with_parts(number: int, **parts: list[str]) -> Setting:
    one = setting(number)
    return replace(one, propeller=one.propeller.model_copy(update={**PARTS, **parts}))


@pytest.mark.parametrize(
    ("key", "other", "said"),
    [
        ("halves", ["M-1", "M-9"], "other hub halves: M-1, M-2, then M-1, M-9"),
        ("match_marks", ["A", "C", "B"], "other match marks: A, B, C, then A, C, B"),
        (
            "shims",
            ["0.2 mm", "none", "0.1 mm"],
            "other shims: none, none, 0.1 mm, then 0.2 mm, none, 0.1 mm",
        ),
    ],
)
def test_other_parts_are_no_like_with_like(key: str, other: list[str], said: str) -> None:
    """A shim under one blade is a difference of blades that nobody set."""
    assert not_alike(with_parts(0), with_parts(1, **{key: other})) == [said]
    assert said in compared(with_parts(0), with_parts(1, **{key: other}))
    assert not_alike(with_parts(0), with_parts(1)) == []
    assert not_alike(with_parts(0), with_parts(1, **{key: []})) == [], "nobody said what it has"


def test_how_far_the_bolts_pull_is_what_was_recorded() -> None:
    judged = {
        body.stage: body
        for body in (event.body for event in read(GOLDEN).events)
        if isinstance(body, Judged) and body.stage == "check"
    }
    before = {one["blade"]: one["angle_deg"] for one in judged["check"].blades}
    first_snug = next(
        body
        for body in (event.body for event in read(GOLDEN).events)
        if isinstance(body, Judged) and body.stage == "snug"
    )
    pulls = setting(0).pulls["snug"]
    for one in first_snug.blades:
        assert pulls[one["blade"]] == pytest.approx(one["angle_deg"] - before[one["blade"]])


def test_when_bolts_were_torqued_is_told_and_when_they_were_not_is_not() -> None:
    assert setting(0).torqued == ("torque",)
    assert "  bolts torqued: torque" in told([setting(0)])
    assert not any("torqued" in line for line in told([replace(setting(0), torqued=())]))
    assert of_one_hub()[0].torqued == ()


def test_hours_between_torquings_are_told_and_what_the_bolts_have_run_since() -> None:
    """A manual that wants the bolts checked again after so many hours is answered by the last line."""
    between = replace(setting(1), torqued=(), read_only=True)
    lines = list(told([setting(0), between, setting(2)]))
    assert [line for line in lines if "bolts torqued" in line] == [
        "  bolts torqued: torque",
        "  bolts torqued: torque (80.0 h after 2031-04-02)",
    ]
    assert lines[-1] == ("bolts last torqued, as far as sessions know: 2032-03-11, at 180.5 h")
    assert list(told([setting(0), between]))[-1] == (
        "bolts last torqued, as far as sessions know: 2031-04-02, at 100.5 h; "
        "40.0 h before 2031-09-20"
    )
    assert not any("last torqued" in line for line in told([between]))


@pytest.mark.parametrize(
    ("hours", "said"),
    [("140,5", "; 40.0 h before 2031-09-20"), ("about 140", ""), ("90", ""), ("inf", "")],
)
def test_hours_that_are_no_number_or_ran_back_are_no_time_between(hours: str, said: str) -> None:
    between = replace(setting(1), torqued=(), hours=hours)
    line = list(told([setting(0), between]))[-1]
    assert line == f"bolts last torqued, as far as sessions know: 2031-04-02, at 100.5 h{said}"
    nowhere = replace(setting(0), hours="")
    assert list(told([nowhere]))[-1].endswith("2031-04-02, hours not stated")


def test_another_face_is_said() -> None:
    other = of(setting(1), face_deg=3.0)
    assert "not the same face: 0 degrees to the span, then 3 degrees to the span" in not_alike(
        setting(0), other
    )


def test_a_setting_is_the_same_again_from_its_data() -> None:
    one = setting(2, 0.1)
    assert from_data(json.loads(json.dumps(to_data(one)))) == one
    for broken in ({}, {"angles": 3}, {**to_data(one), "pulls": {"snug": 1}}):
        with pytest.raises(ValueError, match="no setting"):
            from_data(broken)


def test_what_is_not_finished_has_no_setting() -> None:
    recording = session(0)
    assert setting_of("x", replace(recording, events=recording.events[:-1])) is None
    watched = recording.header.model_copy(update={"procedure": "watch"})
    assert setting_of("x", replace(recording, header=watched)) is None


# --- pictures -------------------------------------------------------------------------------------


def test_the_picture_puts_later_to_the_right_and_coarser_higher() -> None:
    settings = [setting(0), setting(1, 0.4), setting(2, -0.4)]
    svg = ET.fromstring(plotted(settings))
    space = "{http://www.w3.org/2000/svg}"
    first = svg.findall(f"{space}circle")[:3]
    xs = [float(dot.attrib["cx"]) for dot in first]
    ys = [float(dot.attrib["cy"]) for dot in first]
    assert xs == sorted(xs)
    assert ys[1] < ys[0] < ys[2]
    assert ET.fromstring(plotted([])) is not None


def test_the_picture_leaves_what_was_found_hollow_and_earlier() -> None:
    svg = ET.fromstring(plotted(of_one_hub()))
    dots = svg.findall("{http://www.w3.org/2000/svg}circle")
    hollow = [dot.attrib["fill"] == "#ffffff" for dot in dots]
    assert hollow == [False, True, True, False] * 2
    xs = [float(dot.attrib["cx"]) for dot in dots[:4]]
    assert xs == sorted(xs)


def test_no_bar_of_one_blade_lies_on_that_of_another_and_the_signs_are_explained() -> None:
    """Two blades that are set alike still show how sure each is."""
    svg = ET.fromstring(plotted(of_one_hub()))
    space = "{http://www.w3.org/2000/svg}"
    dots = svg.findall(f"{space}circle")
    assert len({dot.attrib["cx"] for dot in dots}) == len(dots)
    words = " ".join("".join(text.itertext()) for text in svg.findall(f"{space}text"))
    assert "hub H-31" in words
    for sign in ("full: as left", "hollow: as found", "dashed: target", "95 %"):
        assert sign in words


@pytest.mark.parametrize("hub", ["", "<H & 7>"])
def test_a_hub_of_any_name_or_none_is_in_the_picture_as_words(hub: str) -> None:
    svg = ET.fromstring(plotted([setting(0, hub=hub)]))
    words = ["".join(text.itertext()) for text in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert any(one.startswith(f"hub {hub}" if hub else "full: as left") for one in words)


# --- a folder -------------------------------------------------------------------------------------


def test_three_sessions_of_one_hub_and_one_of_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stored(tmp_path, session(0), session(1), session(2, -0.4), session(0, hub="H-1"))
    folder = ["--folder", str(tmp_path)]
    assert main(["history", *folder]) == 0
    assert capsys.readouterr().out.splitlines() == ["H-1: 1 sessions", "H-77: 3 sessions"]
    assert main(["history", "H-77", *folder, "--svg", str(tmp_path / "h.svg")]) == 0
    printed = capsys.readouterr().out
    assert [date for date in DATES if date in printed] == list(DATES)
    assert printed.index(DATES[0]) < printed.index(DATES[1]) < printed.index(DATES[2])
    assert printed.count("no difference proven") == 3
    assert printed.count("0.40 ± 0.08 finer") == 3
    assert "snug turned the blades by" in printed
    assert ET.parse(tmp_path / "h.svg").getroot().tag.endswith("svg")
    assert main(["history", "H-9", *folder]) == 1
    assert main(["history", "H-77", *folder, "--json"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [json.loads(line)["hours"] for line in lines[-3:]] == ["100.5", "140.5", "180.5"]


def test_the_index_is_made_again_and_never_believed_over_a_file(tmp_path: Path) -> None:
    stored(tmp_path, session(0), session(1))
    first, _ = settings_in(tmp_path)
    assert (tmp_path / INDEX).exists()
    assert settings_in(tmp_path) == (first, [])
    for content in (
        "[",
        "{}",
        '{"stillblade_history": 2}',
        '{"stillblade_history": 1, "sessions": 3}',
    ):
        (tmp_path / INDEX).write_text(content)
        assert settings_in(tmp_path) == (first, [])
    (tmp_path / "job-1.session").unlink()
    assert settings_in(tmp_path)[0] == first[:1]
    stored_again = session(1, 0.3)
    store = Store.create(tmp_path / "job-1.session", stored_again.header)
    store.commit(stored_again.inputs, stored_again.events, stored_again.reach_ns)
    store.close()
    assert settings_in(tmp_path)[0][1].angles[1][0] == pytest.approx(first[1].angles[1][0] + 0.3)


def test_a_file_that_cannot_be_read_is_named_and_the_others_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stored(tmp_path, session(0))
    (tmp_path / "bad.session").write_bytes(b"SQLite format 3\0" + bytes(5000))
    assert main(["history", "--folder", str(tmp_path)]) == 0
    out, err = capsys.readouterr()
    assert "bad.session" in err
    assert DATES[0] in out
    assert main(["history", "--folder", str(tmp_path / "no")]) == 2


def test_a_damaged_session_is_named_and_its_numbers_are_not_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stored(tmp_path, session(0), session(1))
    damaged = tmp_path / "job-1.session"
    lines = tmp_path / "damaged.jsonl"
    lines.write_bytes(GOLDEN.read_bytes().replace(b'"angle_deg"', b'"angel_deg"', 1))
    with sqlite3.connect(damaged) as connection:
        connection.execute("UPDATE events SET json = substr(json, 2) WHERE n = 5")
    connection.close()
    assert main(["history", "--folder", str(tmp_path)]) == 0
    told_ = capsys.readouterr()
    assert "job-1.session" in told_.err
    assert "is damaged" in told_.err
    assert "2031-09-20" not in told_.out
    assert main(["compare", str(tmp_path / "job-0.session"), str(damaged)]) == 2
    assert main(["compare", str(tmp_path / "job-0.session"), str(lines)]) == 2


def test_two_sessions_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stored(tmp_path, session(0), session(1, 0.4), session(2, hub="H-1"))
    paths = [str(tmp_path / f"job-{n}.session") for n in range(3)]
    assert main(["compare", paths[0], paths[1]]) == 0
    assert "blade 1 (red): 0.40 ± 0.08 coarser" in capsys.readouterr().out
    assert main(["compare", paths[0], paths[2]]) == 1
    assert "not the same hub" in capsys.readouterr().out


def test_a_history_reads_like_one() -> None:
    lines = list(told([setting(0), setting(1, 0.4)]))
    assert lines[0].startswith("2031-04-02, 100.5 h  Set three blades  within")
    assert lines[1].startswith("  blade 1 (red)      as left   20.96° ± 0.06")
    assert any("coarser" in line for line in lines)


# --- found and left: whole jobs through the ordinary core ------------------------------------------------


@functools.cache
def of_one_hub() -> tuple[Setting, ...]:
    return tuple(found for one in hub_sessions.three() if (found := setting_of("x", one)))


def test_what_a_read_only_session_found_is_held_against_what_was_left() -> None:
    first, read_only, again = of_one_hub()
    assert (read_only.read_only, read_only.found) == (True, read_only.angles)
    assert not read_only.pulls
    for later in (read_only, again):
        one, two = between(first.angles, later.found)
        assert (one.proven, two.proven) == (False, True)
        assert abs(two.deg - -0.28) <= two.u95_deg
        assert abs(one.deg) <= one.u95_deg
    assert [each.proven for each in differences(first, again)] == [False, False]


def test_what_is_found_is_held_against_the_last_that_set_anything() -> None:
    first, read_only, again = of_one_hub()
    assert left_before([first, read_only]) == first
    assert left_before([read_only]) == read_only
    assert left_before([]) is None
    lines = list(told([read_only, again]))
    assert "no difference proven" in next(one for one in lines[3:] if "as found" in one)


def test_rounds_of_a_procedure_tell_how_far_their_bolts_turned_blades_also_where_nothing_is_read() -> (
    None
):
    """`rim` is read in `last`; each is told from where the blades were set."""
    for one in (of_one_hub()[0], of_one_hub()[2]):
        assert list(one.pulls) == ["hub", "rim"]
        for blade in (1, 2):
            hub, rim = (hub_sessions.TURNS[name][blade] for name in ("hub", "rim"))
            u95 = one.angles[blade][1] * 1.5
            assert one.pulls["hub"][blade] == pytest.approx(hub, abs=u95)
            assert one.pulls["rim"][blade] == pytest.approx(hub + rim, abs=u95)


def test_bolts_of_one_clamp_tell_of_its_own_blades() -> None:
    rounds = ["snug", "nip", "torque", "final"]
    plan: dict[str, Any] = {"clamps": [[1], [2]], "order": "clamp by clamp", "rounds": rounds}
    crew = Crew(hub_sessions.head("2031-04-02", "1", **plan))
    work_to_the_end(crew)
    pulls = pulls_of(Recording(crew.header, crew.inputs, crew.events, crew.t_ns))
    assert {name: sorted(each) for name, each in pulls.items()} == {
        "nip 1": [1],
        "nip 2": [2],
        "torque": [1, 2],
    }


def work_to_the_end(crew: Crew) -> None:
    for _ in range(60):
        stage, blade = crew.step()
        if stage == "finished":
            break
        if blade is None:
            crew.press("done")
        elif blade == "reference":
            crew.on_hub_face()
        else:
            crew.on_blade(blade)
    crew.press("done")
    assert crew.engine.finished


def test_the_page_shows_the_history_of_three_sessions_as_it_is_printed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert hub_sessions.printed() == 0
    shown = capsys.readouterr().out
    page = (Path(__file__).parents[2] / "docs" / "sheet.md").read_text("utf-8")
    assert f"```text\n{shown}```" in page


def test_what_is_told_of_a_hub_before_a_job_is_when_it_was_set_last_not_looked_at(
    tmp_path: Path,
) -> None:
    sessions = hub_sessions.three()[:2]
    hub_sessions.keep(tmp_path, sessions)
    known = before(tmp_path / "job.toml", sessions[0].header.job)
    assert known.earlier == "2031-04-02, within"
    assert known.pulled_deg == pytest.approx(0.18, abs=0.04)


def test_a_chart_in_characters_puts_coarser_to_the_right_and_reaches_as_far_as_is_known() -> None:
    first, read_only, _ = of_one_hub()
    heading, green, yellow, *_, drifted = in_characters([first, read_only])
    assert heading.split()[0].startswith("-")
    middle = green.index("|")
    assert yellow.index("|") == middle
    assert green.rindex("o") > middle > yellow.rindex("o") > drifted.index("x")
    assert drifted.split()[-2] == "---x----"
    assert list(in_characters([])) == []
