"""Holes that one set of plates alone has lost: fit, maps, swaps, shows, plates and seams, as a user meets them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pdfplumber
import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.config import load_wheel
from pegwright.layout import layout_sha256
from schemas import closed

JIG = SONGS / "shrimpers-jig.mid"
TANGO = SONGS / "turnstile-tango.mid"
LOST = '\n[[lost]]\nrow = "on"\nhole = 5\n'
OF_SET_2 = f"{LOST}set = 2\n"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def wheel_path(tmp_path: Path) -> Path:
    return written_wheel(tmp_path / "wheel.toml", OF_SET_2)


def written_wheel(path: Path, more: str) -> Path:
    path.write_text(WHEEL.read_text(encoding="utf-8") + more, encoding="utf-8")
    return path


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_summary_counts_the_holes_of_each_set(pegwright: Command, wheel_path: Path) -> None:
    said = flat(pegwright("wheel", wheel_path).out)
    assert "2,096 on every plate; 12,576 in every set; 25,296 in all, in 2 sets of plates" in said
    assert "Lost holes 144 of a set, 144 more of set 2" in said
    assert "on hole 5 (at step 5) of every plate of set 2, 24 channels: the wheel file says so" in said
    document = json.loads(pegwright("wheel", wheel_path, "--json").out)
    assert document["holes"]["in_all_sets"] == 12_720 + 12_576
    assert [group["plate_set"] for group in document["lost"] if "plate_set" in group] == [2]


def test_a_song_takes_the_holes_of_every_set_or_of_the_one_asked_for(pegwright: Command, wheel_path: Path) -> None:
    """The same counts as on wheels whose file says it without sets."""
    alone, of_all = (wheel_path.with_name(name) for name in ("alone.toml", "all.toml"))
    written_wheel(alone, "")
    written_wheel(of_all, LOST)

    def counted(path: Path, *options: str) -> str:
        return pegwright("fit", JIG, "--wheel", path, *options).out.splitlines()[0]

    assert counted(wheel_path) == counted(wheel_path, "--plate-set", "2") == counted(of_all)
    assert counted(wheel_path, "--plate-set", "1") == counted(alone) == "All 205 notes sound."
    assert "13 left out: 13 lost at a seam" in counted(of_all)
    every = flat(pegwright("fit", JIG, "--wheel", wheel_path).out)
    assert (
        "144 holes of a set of plates are lost on some sets alone, and used on none, so that pins fit every set"
        in every
    )
    assert "which the wheel file counts as lost on set 2 of plates" in every
    assert "lost on some sets" not in flat(pegwright("fit", JIG, "--wheel", wheel_path, "--plate-set", "2").out)
    refused = pegwright("fit", JIG, "--wheel", wheel_path, "--plate-set", "3").refused(2)
    assert "there is no set 3 of plates among 2" in refused


def pinned(pegwright: Command, wheel_path: Path, folder: Path, *options: object) -> Path:
    done = pegwright("pin", JIG, "--wheel", wheel_path, "-o", folder, "--no-remedies", *options)
    assert done.code in (0, 3), done
    return folder


def test_maps_name_their_set_and_have_its_layout(pegwright: Command, tmp_path: Path, wheel_path: Path) -> None:
    alone, of_all = (load_wheel(written_wheel(tmp_path / f"{n}.toml", more)) for n, more in enumerate(("", LOST)))
    for options, number, same in [((), None, of_all), (("1",), 1, alone), (("2",), 2, of_all)]:
        asked = ("--plate-set", *options) if options else ()
        folder = pinned(pegwright, wheel_path, tmp_path / f"set-{number}", *asked)
        document = json.loads((folder / "pin-map.json").read_text(encoding="utf-8"))
        closed("pin-map-3.json").validate(document)
        assert document["fit"].get("plate_set") == number
        assert document["layout"]["sha256"] == layout_sha256(same)
        assert pegwright("check", folder, "--wheel", wheel_path).code == 0
        assert pegwright("hear", folder, "--wheel", wheel_path, "-o", tmp_path / f"{number}.mid").code == 0
        assert pegwright("find", folder, "--wheel", wheel_path, "--bar", "2").code == 0
    moved = json.loads((tmp_path / "set-1" / "pin-map.json").read_text(encoding="utf-8"))
    moved["fit"]["plate_set"] = 2
    (tmp_path / "moved.json").write_text(json.dumps(moved), encoding="utf-8")
    refused = pegwright("hear", tmp_path / "moved.json", "--wheel", wheel_path, "-o", tmp_path / "x.mid").refused(1)
    assert "hole 5 of row 'on' is lost on set 2 of plates, as declared" in refused


def test_csv_files_without_a_map_are_for_the_set_that_has_their_holes(
    pegwright: Command, tmp_path: Path, wheel_path: Path
) -> None:
    of_set, every = (
        pinned(pegwright, wheel_path, tmp_path / name, *options)
        for name, options in [("one", ("--plate-set", "1")), ("every", ())]
    )
    hashes = []
    for folder, number in ((of_set, 1), (every, None)):
        whole = json.loads((folder / "pin-map.json").read_text(encoding="utf-8"))
        (folder / "pin-map.json").unlink()
        assert pegwright("check", folder, "--wheel", wheel_path).code == 0
        assert pegwright("find", folder, "--wheel", wheel_path, "--bar", "2").code == 0
        new = tmp_path / f"{folder.name}-again"
        done = pegwright("pin", folder, "--wheel", wheel_path, "--tempo", "156", "-o", new)
        assert done.code == 0, done
        again = json.loads((new / "pin-map.json").read_text(encoding="utf-8"))
        assert again["fit"].get("plate_set") == number
        assert (again["map_sha256"], again["layout"]) == (whole["map_sha256"], whole["layout"])
        hashes.append(again["map_sha256"])
    assert hashes[0] != hashes[1]
    hear = ("hear", of_set, "--wheel", wheel_path, "--tempo", "156", "-o", tmp_path / "x.mid")
    refused = pegwright(*hear, "--plate-set", "2").refused(1)
    assert "hole 5 of row 'on' is lost on set 2 of plates, as declared" in refused
    assert "there is no set 3 of plates among 2" in pegwright(*hear, "--plate-set", "3").refused(2)
    assert "step 193 is not on the turn" in pegwright(*hear, "--start", "193").refused(2)


def test_pins_are_edited_by_the_holes_of_their_set(pegwright: Command, tmp_path: Path, wheel_path: Path) -> None:
    edit = "set plate 3, channel 7, step 5 on"
    for number, there in (("1", True), ("2", False)):
        folder = pinned(pegwright, wheel_path, tmp_path / number, "--plate-set", number)
        ran = pegwright("edit", folder, edit, "--wheel", wheel_path)
        if there:
            assert ran.code == 0, ran
        else:
            assert "declared as lost" in ran.refused(2)


def test_a_swap_stays_on_its_set(pegwright: Command, tmp_path: Path, wheel_path: Path) -> None:
    one, two, every = (
        pinned(pegwright, wheel_path, tmp_path / name, *options)
        for name, options in [("one", ("--plate-set", "1")), ("two", ("--plate-set", "2")), ("every", ())]
    )
    refused = pegwright("swap", one, two, "--wheel", wheel_path).refused(2)
    assert "its pins are for set 2 of plates, and the plates are those of set 1" in refused
    onto_one = ("pin", TANGO, "--from", one, "--wheel", wheel_path, "-o", tmp_path / "x", "--no-remedies")
    refused = pegwright(*onto_one, "--plate-set", "2").refused(2)
    assert "for set 2 of plates, and the plates are those of set 1" in refused
    assert "Options --plate-set 1" in flat(pegwright(*onto_one).out)
    assert pegwright("swap", one, every, "--wheel", wheel_path).code == 0
    for before, sounding in ((one, "All 205 notes sound"), (two, "192 of 205 notes sound")):
        done = pegwright("swap", before, JIG, "--start", "1", "--wheel", wheel_path)
        assert sounding in flat(done.out), done


def test_a_show_takes_the_holes_of_every_set_and_says_what_that_costs(
    pegwright: Command, tmp_path: Path, wheel_path: Path
) -> None:
    def show(*songs: str, top: str = "") -> Path:
        path = tmp_path / "set.toml"
        path.write_text(f'title = "Evening"\nwheel = "wheel.toml"\n{top}' + "".join(songs), encoding="utf-8")
        return path

    jig, tango = (f'[[song]]\nscore = "{song}"\nstart = 1\n' for song in (JIG, TANGO))
    said = flat(pegwright("set", show(jig, tango)).out)
    assert "144 holes of a set of plates are lost on some sets alone, and used on none" in said
    assert "The Shrimpers' Jig could sound 13 more notes in holes that set 1 alone has" in said
    assert "Turnstile Tango could sound" not in said, "the plan puts it on set 2"
    refused = pegwright("set", show(f"{jig}plate_set = 1\n", tango)).refused(2)
    assert "plate_set: in a show the plan chooses the sets" in refused
    pinned(pegwright, wheel_path, tmp_path / "two", "--plate-set", "2")
    carried = '[plates]\ncarry = ["two/pin-map.json"]\n'
    assert "its pins are for set 2 of plates, and set 1 carries it" in pegwright("set", show(carried, jig)).refused(2)
    carried = '[plates]\ncarry = ["", "two/pin-map.json"]\n'
    assert pegwright("set", show(carried, jig, tango)).code in (0, 3)


def test_a_survey_takes_the_holes_of_every_set_and_says_so(
    pegwright: Command, tmp_path: Path, wheel_path: Path
) -> None:
    scores = tmp_path / "scores"
    scores.mkdir()
    (scores / JIG.name).write_bytes(JIG.read_bytes())
    options = ("--workers", "1", "--semitones", "0", "--wheel")
    said = flat(pegwright("survey", scores, *options, wheel_path, "-o", tmp_path / "out").out)
    assert "144 holes of a set of plates are lost on some sets alone, and used on none" in said
    plain = written_wheel(tmp_path / "plain.toml", LOST)
    assert "lost on some" not in flat(pegwright("survey", scores, *options, plain, "-o", tmp_path / "out2").out)


def test_every_set_has_its_own_plates(pegwright: Command, tmp_path: Path) -> None:
    written_wheel(tmp_path / "merrow-sands.toml", f"{OF_SET_2}plate = 3\n")
    plate = tmp_path / "plate.toml"
    plate.write_text((SONGS / "merrow-sands-plate.toml").read_text(encoding="utf-8"), encoding="utf-8")
    said = flat(pegwright("plate", plate, "-o", tmp_path / "out").out)
    first, second = "pattern-1", "pattern-2"
    assert (
        f"plates 1, 2, 3, 4, 5 and 6 of set 1 and plates 1, 2, 4, 5 and 6 of set 2: folder {first}, 2,120 pin" in said
    )
    assert f"plate 3 of set 2: folder {second}, 2,096 pin holes" in said
    for name, holes in ((first, 2_120), (second, 2_096)):
        lines = (tmp_path / "out" / name / "holes.csv").read_text(encoding="utf-8").splitlines()
        assert sum(line.split(",")[1] == "pin" for line in lines) == holes
    with pdfplumber.open(tmp_path / "out" / second / f"{second}-set-up-a4.pdf") as sheet:
        assert "for plate 3 of set 2; drilled at 20 °C" in flat(sheet.pages[0].extract_text())
    document = json.loads((tmp_path / "out" / "plate.json").read_text(encoding="utf-8"))
    closed("plate-1.json").validate(document)
    assert [each["sets"] for each in document["patterns"]] == [
        [{"plate_set": 1, "plates": [1, 2, 3, 4, 5, 6]}, {"plate_set": 2, "plates": [1, 2, 4, 5, 6]}],
        [{"plate_set": 2, "plates": [3]}],
    ]


def test_plates_are_measured_by_the_holes_of_their_set(pegwright: Command, tmp_path: Path) -> None:
    """Where set 2 has lost the first hole of row on, its arc begins a step later, and that of the file is too long."""
    written_wheel(tmp_path / "merrow-sands.toml", LOST.replace("5", "1") + "set = 2\n")
    plate, measured = tmp_path / "plate.toml", tmp_path / "measured.toml"
    plate.write_text((SONGS / "merrow-sands-plate.toml").read_text(encoding="utf-8"), encoding="utf-8")
    text = (SONGS / "merrow-sands-measured.toml").read_text(encoding="utf-8")
    measured.write_text(text, encoding="utf-8")
    assert pegwright("seam", plate, measured).code == 0
    measured.write_text(re.sub(r"(?m)^set = 1", "set = 2", text), encoding="utf-8")
    assert "no k explains" in pegwright("seam", plate, measured).err


@pytest.mark.parametrize(("number", "fault"), [(3, "3 is above the maximum, 2"), (0, "0 is below the minimum, 1")])
def test_a_set_that_there_is_not_is_refused(pegwright: Command, tmp_path: Path, number: int, fault: str) -> None:
    path = written_wheel(tmp_path / "wheel.toml", f"{LOST}set = {number}\n")
    assert fault in pegwright("wheel", path).refused(2)
