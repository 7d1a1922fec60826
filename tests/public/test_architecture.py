"""The pages that say where things live name every room of the import contract, and no other."""

from __future__ import annotations

import re
import tomllib
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest

import pegwright
from documents import pages_of
from pegwright.grid import hole_grid
from pegwright.tell.audible import Audibility
from places import ROOT, SONGS

PACKAGE = ROOT / "src" / "pegwright"
PAGE, DEVELOPERS = ROOT / "docs" / "architecture.md", ROOT / "DEVELOPERS.md"
DRAWING = ROOT / "docs" / "images" / "architecture.svg"
FACE = "__init__"  # the package itself, which is the container of the layers


def layers() -> list[list[str]]:
    """The rooms of each layer, from the top."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    (contract,) = (each for each in contracts if each["type"] == "layers")
    assert contract["exhaustive"]
    return [[room.strip() for room in layer.split("|")] for layer in contract["layers"]]


def room_of(name: str) -> str:
    """A room as the contract calls it, from `fit/` or `grid.py`, which has to be there."""
    path = PACKAGE / name
    assert path.is_dir() if name.endswith("/") else path.is_file(), name
    return name.removesuffix("/").removesuffix(".py")


def table_rows(page: Path) -> list[tuple[list[str], list[str]]]:
    """For each row of the tables headed `room`: the rooms of its first cell, and the other cells."""
    rows = []
    for table in re.findall(r"^\| room \|.*\n\|[-|]+\|\n((?:\|.*\n)+)", page.read_text(encoding="utf-8"), re.MULTILINE):
        for line in table.splitlines():
            first, *others = (cell.strip() for cell in line.strip("|").split("|"))
            rows.append(([room_of(name) for name in re.findall(r"`([^`]+)`", first)], others))
    return rows


@pytest.mark.parametrize("page", [PAGE, DEVELOPERS], ids=lambda page: page.name)
def test_tables_name_the_rooms_of_the_contract_and_no_other(page: Path) -> None:
    named = [room for rooms, _ in table_rows(page) for room in rooms]
    assert len(named) == len(set(named)), "a room stands in two rows"
    assert set(named) == {FACE, *(room for layer in layers() for room in layer)}


@pytest.mark.parametrize("page", [PAGE, DEVELOPERS], ids=lambda page: page.name)
def test_every_module_belongs_to_a_room_of_the_tables(page: Path) -> None:
    named = {room for rooms, _ in table_rows(page) for room in rooms}
    modules = [path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py")]
    assert len(modules) > 100
    assert {path.parts[0].removesuffix(".py") for path in modules} == named


def test_developers_table_is_in_the_order_of_the_layers() -> None:
    place = {room: number for number, layer in enumerate(layers()) for room in layer}
    rows = [[place[room] for room in rooms] for rooms, _ in table_rows(DEVELOPERS) if rooms != [FACE]]
    for above, below in pairwise(rows):
        assert max(above) <= min(below)


def test_the_page_says_of_every_room_what_goes_in_and_out_and_what_it_must_not() -> None:
    for rooms, cells in table_rows(PAGE):
        assert all(cells), rooms


def test_the_drawing_names_rooms_that_exist() -> None:
    texts = [node.text or "" for node in ElementTree.parse(DRAWING).iter() if node.get("class") == "name"]  # noqa: S314  # our own file
    named = {room_of(name) for text in texts for name in text.split()}
    not_drawn = {FACE, "__main__", "bundled", "song_pipeline", "song"}  # the last two are words in the frame
    assert named == {room for layer in layers() for room in layer} - not_drawn
    words = DRAWING.read_text(encoding="utf-8")
    assert "song_pipeline/" in words
    assert "song.py" in words


def test_the_figures_of_the_page_are_those_of_the_song() -> None:
    wheel = pegwright.load_wheel(SONGS / "merrow-sands.toml")
    fitted = pegwright.fit_file(SONGS / "round-the-pier-and-back.mxl", wheel)
    first, second = fitted.turns
    files = pegwright.song_files(fitted)
    sheets = sum(len(pages_of(files["print-a4.pdf"], f"Set of plates {letter}", "Pin sheets")) for letter in "AB")
    lines = hole_grid(wheel).lines
    holes, lost = sum(len(line.loss) for line in lines), sum(int((line.loss != 0).sum()) for line in lines)
    page = PAGE.read_text(encoding="utf-8")
    for words in (
        f"*{fitted.score.title}*",
        f"{wheel.plate_count} plates, {wheel.turn_steps} steps a turn, {len(wheel.channels)} channels",
        f"{fitted.score.note_count} notes in whole ticks, {fitted.score.resolution} to a quarter, "
        f"{len(fitted.score.bar_map.labels)} bars",
        f"turns of {wheel.turn_quarters} quarters: {fitted.bars_of(0)}, {fitted.bars_of(1)}",
        f"its {holes:,} places for holes, of which {lost} are lost at seams",
        f"each of {first.placement.placed_count} and {second.placement.placed_count} notes",
        f"a `PinMap` of {first.pins.pin_count} and {second.pins.pin_count} pins",
        f"the running order {fitted.running_text}",
        f"the {len(files)} files as bytes",
        f"{sheets} pin sheets",
        f"{fitted.report.audibility_counts[Audibility.EXACT]} exact, none moved, none left out",
    ):
        assert words in page, words
    assert not fitted.report.moved
    assert not fitted.report.left_out
    assert f"{len(files)} files" in DRAWING.read_text(encoding="utf-8")
