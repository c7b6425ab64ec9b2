"""A person whose only face is the page in a browser does the whole job."""

import http.client
import json
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from simulator.line import Line
from tests.faces.chromium import Chromium
from tests.faces.mosquitto import free_port
from tests.whole.program import JOB, Level, Running, end_all, stillblade

if sys.platform == "win32":
    collect_ignore = ["test_page.py"]

GOLDEN = Path(__file__).parents[1] / "golden" / "format1-rules5.jsonl"
TRUE = {"REFERENCE": -3.0, "BLADE 1": 17.0, "BLADE 2": 17.05}
"""What the level shows there, by the name the page gives it."""


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A socket's name has 107 bytes (unix(7)), and folders of tests grow with every run."""
    with tempfile.TemporaryDirectory(prefix="sb-") as short:
        monkeypatch.setenv("XDG_RUNTIME_DIR", short)
        yield
        end_all()


class Person:
    """Knows nothing but what the page says."""

    def __init__(self, browser: Chromium, level: Level, pictures: Path) -> None:
        self._browser = browser
        self._level = level
        self._pictures = pictures
        self.taken: list[tuple[str, str]] = []

    def work(self) -> str:
        """Do what it says until it is over; return the largest line then."""
        while True:
            self._browser.until(self._asks_something, "nothing is asked for")
            button = self._button()
            if button == "":
                return self._browser.text("largest")
            if button == "DONE":
                before = self._browser.text("say"), button
                self._press()
                self._browser.until(
                    lambda at=before: (self._browser.text("say"), self._button()) != at  # type: ignore[misc]
                )
            else:
                self._read()

    def _asks_something(self) -> bool:
        return self._button() in {"DONE", "TAKE"} or bool(
            re.match("ALL WITHIN|.* OUT|UNDECIDED|OPEN|DO NOT FLY", self._browser.text("largest"))
        )

    def _button(self) -> str:
        return str(
            self._browser.ask("document.querySelector('#buttons button')?.textContent ?? ''")
        )

    def _press(self) -> None:
        self._browser.click("document.querySelector('#buttons button')")

    def _read(self) -> None:
        where = self._where()
        self._level.carry()
        self._level.lay(TRUE[where])
        self._press()
        self._browser.until(self._is_taken, "it was not taken")
        self._browser.picture(self._pictures / f"{len(self.taken):02}.png")
        shown = self._browser.text("largest")
        if shown != "ALL WITHIN":  # after the last one the result is what matters
            self.taken.append((self._browser.text("second"), shown))
            self._level.carry()
            self._browser.until(lambda: self._browser.text("largest") != shown)

    def _is_taken(self) -> bool:
        if self._browser.text("largest") == "ALL WITHIN":
            return True
        return self._browser.text("shape") == "✓" and self._browser.text("second") in TRUE

    def _where(self) -> str:
        self._browser.until(lambda: self._named() in TRUE, "no blade is named")
        return self._named()

    def _named(self) -> str:
        if self._browser.text("largest") == "PLACE IT":
            return self._browser.text("second")
        return self._browser.text("third").partition(":")[0].split(",")[0].upper()


@pytest.mark.real
def test_the_whole_job_with_the_page_as_the_only_face(tmp_path: Path) -> None:
    line = Line("chord")
    job = tmp_path / "bench.toml"
    job.write_text(JOB.replace("PORT", line.open()), "utf-8")
    service = Running(job, "--page", f"127.0.0.1:{free_port()}", command="serve")
    service.wait_to_hear("page: the link")
    kept = Path(next(text for text in service.errors if "page: the link" in text).split()[-1])
    assert kept.stat().st_mode & 0o077 == 0
    link = kept.read_text("utf-8").strip()
    token = link.partition("#")[2]
    level = Level(line)
    try:
        with Chromium(740, 304) as browser:
            browser.go(link)
            person = Person(browser, level, tmp_path)
            assert person.work() == "ALL WITHIN"
            browser.until(lambda: browser.text("second").startswith("SPREAD"))
            browser.picture(tmp_path / "end.png")
            assert browser.complaints() == []
    finally:
        level.stop()
        line.close()
    events = service.rest()
    assert service.process.returncode == 0
    captured = [one for one in events if one["event"] == "captured"]
    names = {"reference": "REFERENCE", 1: "BLADE 1", 2: "BLADE 2"}
    assert person.taken == [
        (names[one["blade"]], f"{one['angle_deg']:.2f}") for one in captured[:-1]
    ]
    assert len(captured) == 11
    commands = [
        told
        for told in map(
            json.loads,
            stillblade("text", str(next(tmp_path.glob("*.session")))).stdout.splitlines(),
        )
        if told.get("input") == "command"
    ]
    assert {told["client"] for told in commands} == {"page"}
    assert len(token) > 20
    assert token not in "".join(service.errors), "standard error may be a log"
    assert token not in json.dumps(events)


@pytest.mark.parametrize("command", ["run", "watch", "serve"])
def test_a_page_that_cannot_be_leaves_no_session_behind(tmp_path: Path, command: str) -> None:
    job = tmp_path / "bench.toml"
    job.write_text(JOB.replace("PORT", "/dev/null"), "utf-8")
    done = stillblade(command, str(job), "--page", "0.0.0.0")
    assert (done.returncode, "every address" in done.stderr) == (2, True)
    assert [path.name for path in tmp_path.iterdir()] == ["bench.toml"]


def test_a_session_again_on_the_page_and_nothing_to_press() -> None:
    port = free_port()
    words = ["--page", f"127.0.0.1:{port}", "--pace", "20"]
    player = Running(GOLDEN, *words, command="replay")
    player.wait_to_hear("page: http")
    assert not any("#" in line for line in player.errors)
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    line.request("GET", "/pictures")
    answer = line.getresponse()
    seen: list[dict[str, Any]] = []
    cues: list[str] = []
    into: Callable[[Any], None] = seen.append
    while not (seen and seen[-1]["over"] and "the end" in cues):
        line_told = answer.readline().strip()
        if line_told == b"event: cue":
            into = lambda cue: cues.append(cue["name"])  # noqa: E731
        elif line_told:
            into(json.loads(line_told.removeprefix(b"data: ")))
            into = seen.append
    line.close()
    player.kill()
    assert seen[-1]["largest"] == "ALL WITHIN"
    assert set(cues) >= {"taken", "alarm", "hands"}
    assert all(one["buttons"] == [] for one in seen)
    assert [one["t_ns"] for one in seen] == sorted(one["t_ns"] for one in seen)
