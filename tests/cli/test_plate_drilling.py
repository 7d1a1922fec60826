"""The drilling files of `pegwright plate`, as a workshop gets them."""

from __future__ import annotations

from pathlib import Path

import pdfplumber
import pytest

from commands import Command, runner
from places import SONGS

DEMO = SONGS / "merrow-sands-plate.toml"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def names(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_every_file_of_a_plate_is_written(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("plate", DEMO, "-o", tmp_path / "out", "--paper", "Letter")
    assert (done.code, done.err) == (0, "")
    assert names(tmp_path / "out") == {
        *("plate.txt", "plate.json", "holes.csv", "pegwright.sha256"),
        *("plate-r2010.dxf", "plate-r12.dxf", "plate.svg", "plate-set-up-letter.pdf", "plate-check-letter.pdf"),
        *(f"plate-{number}-tool-{tool}-{form}.ngc" for number, tool in enumerate((2, 3, 4, 1), 1) for form in FORMS),
    }


FORMS = ("canned", "plain")


def test_the_order_of_holes_can_be_chosen(pegwright: Command, tmp_path: Path) -> None:
    metres = []
    for order in ((), ("--order", "shortest")):
        folder = tmp_path / f"out{len(order)}"
        assert pegwright("plate", DEMO, "-o", folder, *order).code == 0
        text = (folder / "plate-4-tool-1-plain.ngc").read_text(encoding="ascii").replace(")\n(- ", " ")
        (line,) = [line for line in text.splitlines() if line.startswith("(Time: takes at least")]
        metres.append(float(line.removesuffix(" m over the sheet)").split()[-1]))
    assert metres == [24.17, 13.27]


def test_jigs_are_written_on_request(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("plate", DEMO, "-o", tmp_path / "out", "--jig")
    assert done.code == 0
    jigs = {name for name in names(tmp_path / "out") if name.startswith("jig-")}
    assert {name.split("/")[0] for name in jigs} == {"jig-1", "jig-2"}
    assert {"jig-1/holes.csv", "jig-1/jig-1-r12.dxf", "jig-1/jig-1.svg", "jig-1/jig-1-2-tool-1-plain.ngc"} <= jigs
    assert "plate.svg" in names(tmp_path / "out")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--jig"], "--jig goes with the plates' own files"),
        (["--jig", "--gauge", "-o", "out"], "--jig goes with the plates' own files"),
        (["--order", "random"], "'--order'"),
        (["--paper", "a9"], "'--paper'"),
    ],
)
def test_options_that_do_not_go_are_refused_in_one_line(
    pegwright: Command, arguments: list[str], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = pegwright("plate", DEMO, *arguments)
    assert done.code == 2
    assert words in done.err
    assert done.out == ""
    assert not list(tmp_path.iterdir())


def test_a_gauge_and_a_strip_get_drilling_files_too(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("plate", DEMO, "--gauge", "-o", tmp_path / "gauge").code == 0
    assert pegwright("plate", DEMO, "--strip", "300", "-o", tmp_path / "strip").code == 0
    assert {"gauge.svg", "gauge-set-up-a4.pdf", "gauge-01-tool-2-plain.ngc"} <= names(tmp_path / "gauge")
    with pdfplumber.open(tmp_path / "gauge" / "gauge-set-up-a4.pdf") as sheet:
        words = " ".join(" ".join(page.extract_text() for page in sheet.pages).split())
    assert "and bolt holes of 4.5 mm for heads of 8.4 mm." in words
    assert {word.rstrip(".,") for word in words.split() if ".txt" in word} <= names(tmp_path / "gauge")
    text = (tmp_path / "strip" / "strip-1-tool-1-plain.ngc").read_text(encoding="ascii")
    assert "holes for trial" in text
    assert "Y0 is the middle of channel 1" not in text


def test_every_part_of_the_starter_files_can_be_drilled(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a newcomer does first, with the files that `--new` writes."""
    monkeypatch.chdir(tmp_path)
    for command in (("wheel", "--new"), ("plate", "--new")):
        assert pegwright(*command).code == 0
    for part in ((), ("--gauge",), ("--strip", "300")):
        folder = tmp_path / "-".join(["out", *part])
        done = pegwright("plate", *part, "-o", folder)
        assert (done.code, done.err) == (0, "")
        assert any(name.endswith("-plain.ngc") for name in names(folder))
