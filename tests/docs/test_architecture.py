"""The page on the house is what the code does: its picture, its tables, its words."""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest

from docs.pictures import rooms

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "architecture.md").read_text("utf-8")
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text("utf-8")


def rows(text: str) -> list[list[str]]:
    """Cells of every row of the tables of a text, without their heads."""
    lines = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| ")]
    return [cells for cells in lines if not set(cells[0]) <= set("- |")]


def section(title: str) -> str:
    return PAGE.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


def test_the_picture_is_what_the_imports_are() -> None:
    """It was drawn by another process, with another hash of every name: it is drawn alike every time."""
    assert rooms.PICTURE.read_text("utf-8") == rooms.svg(), "python -m docs.pictures.rooms"


def test_the_table_of_rooms_has_every_arrow_and_no_other() -> None:
    table = {
        cells[0].strip("`"): set(re.findall(r"`([^`]+)`", cells[2]))
        for cells in rows(section("The rooms"))[1:]
    }
    assert table == rooms.arrows(ROOT, rooms.rooms(ROOT)), "python -m docs.pictures.rooms arrows"


def house(folder: Path, files: dict[str, str]) -> Path:
    """A small house: the packages, and these files in them."""
    for package in rooms.PACKAGES:
        files.setdefault(f"{package}/__init__.py", f'"""The room {package}."""')
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return folder


def test_an_arrow_is_seen_wherever_it_is_imported_and_left_out_where_a_way_leads_there(
    tmp_path: Path,
) -> None:
    house(
        tmp_path,
        {
            "daemon/core/__init__.py": '"""The fold."""',
            "daemon/core/a.py": "def late():\n    import drivers.b\n    from shared.c import d\n",
            "daemon/cli/__init__.py": '"""Commands."""',
            "daemon/cli/a.py": "from daemon.core import a\nimport drivers\n",
        },
    )
    arrows = rooms.arrows(tmp_path, rooms.rooms(tmp_path))
    assert arrows["daemon.core"] == {"drivers", "shared"}
    assert arrows["daemon.cli"] == {"daemon.core", "drivers"}
    assert rooms.needed(arrows)["daemon.cli"] == {"daemon.core"}
    assert rooms.floors(arrows) == {"shared": 0, "drivers": 1, "daemon.core": 2, "daemon.cli": 3}


def test_a_circle_of_rooms_cannot_be_drawn(tmp_path: Path) -> None:
    house(tmp_path, {"tui/a.py": "import simulator.b", "simulator/b.py": "import tui.a"})
    with pytest.raises(ValueError, match="circle: simulator, tui"):
        rooms.svg(tmp_path)


def test_what_the_page_says_stands_somewhere_stands_there() -> None:
    for cells in rows(section("Where do I change …"))[1:]:
        for name, file in re.findall(r"`(\w+)`(?: in|, in)? `([\w/.]+\.py)`", " ".join(cells)):
            assert re.search(rf"\b{name}\b", (ROOT / file).read_text("utf-8")), (name, file)


def test_every_file_and_folder_that_the_page_names_is_there() -> None:
    named = set(re.findall(r"`([\w.]+/[\w./]*)`", PAGE))
    assert len(named) > 90
    assert {name for name in named if not (ROOT / name).exists()} == set()


def test_functions_without_a_caller_are_there_and_nothing_calls_them() -> None:
    product = [f for package in rooms.PACKAGES for f in (ROOT / package).rglob("*.py")]
    called = Counter(name for file in product for name in names_used(file))
    listed = 0
    for cells in rows(section("Functions without a caller in the product"))[1:]:
        for names, file in re.findall(r"((?:`\w+`(?:, )?)+) in `([\w/.]+\.py)`", cells[0]):
            for name in re.findall(r"`(\w+)`", names):
                assert re.search(rf"(?:def|class) {name}\b", (ROOT / file).read_text("utf-8"))
                assert not called[name], name
                listed += 1
    assert listed > 10


def names_used(file: Path) -> list[str]:
    nodes = list(ast.walk(ast.parse(file.read_text("utf-8"))))
    used = [node.id for node in nodes if isinstance(node, ast.Name)]
    return used + [node.attr for node in nodes if isinstance(node, ast.Attribute)]


def test_every_word_of_the_glossary_is_there_once_and_where_it_says() -> None:
    table = [cells for cells in rows(GLOSSARY) if cells[0] != "word"]
    assert max(Counter(cells[0] for cells in table).values()) == 1
    for word, _, where in table:
        files = re.findall(r"`([\w/.]+)`", where)
        assert files, word
        assert all((ROOT / file).is_file() for file in files), where
        for name, file in re.findall(r"\*\*(\w+)\*\* in `([\w/.]+)`", where):
            assert re.search(rf"\b{name}\b", (ROOT / file).read_text("utf-8")), where


def test_no_two_files_of_the_daemon_have_one_name() -> None:
    names = Counter(file.name for file in (ROOT / "daemon").rglob("*.py"))
    del names["__init__.py"]
    assert [name for name, count in names.items() if count > 1] == []
