"""`pegwright plate` as a maker runs it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from commands import Command, runner
from pegwright.cautions import MAKE
from pegwright.plate.pattern import patterns
from plate_text import DEMO, changed, demo_plate, demo_values, demo_wheel, setting, without
from schemas import closed
from toml_text import toml_text


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_the_summary_says_what_has_to_be_known_of_a_plate(pegwright: Command) -> None:
    done = pegwright("plate", DEMO)
    assert (done.code, done.err) == (0, "")
    text = flat(done.out)
    for words in (
        "sheet: HDPE, 6 mm, outer face at radius 477.5 mm",
        "cut 496.597 mm long and 362.000 mm wide; on the rim 499.737 mm long",
        "500.037 mm on the rim is 496.895 mm flat, a step of 15.6262 mm is 15.5280 mm",
        "0.9937173 flat to rim, k = 0.5, neutral radius 474.500 mm",
        "0.632 % at the outer face",
        "widens along the rim at the outer face by 0.016 to 0.047 mm",
        "its inner end narrows by as much",
        "chord 477.50 mm and sag 63.97 mm",
        "each 0.1 puts the last holes 0.628 mm off, 5.0 ms at 120 quarter notes a minute",
        "a sheet bent elastically springs flat and is held by its fixings alone; its ends stay flat beyond the last",
        "Lay the sheet with its outer face up: the one that carries the pins. Step 1 is at the left and the first"
        " channel at the top, as on pin sheets. The engraved arrow points to step 1, the way the plate turns",
        "every plate of every set: the files of this folder, 2,120 pin holes and 11 fixing holes",
        " ".join(MAKE),
    ):
        assert words in text, words
    assert max(map(len, done.out.splitlines())) <= 100


def test_a_sheet_whose_neutral_line_is_its_inner_face_strains_and_widens_outside_alone(
    pegwright: Command, tmp_path: Path
) -> None:
    path = written(tmp_path, setting("sheet", k=0.0))
    text = flat(pegwright("plate", path).out)
    assert "1.273 % at the outer face" in text
    assert "widens along the rim at the outer face by 0.032 to 0.095 mm" in text
    assert "its inner end narrows by 0.000 to 0.000 mm" in text


def test_times_are_given_at_the_tempo_that_is_asked_for(pegwright: Command) -> None:
    assert "0.628 mm off, 9.6 ms at 63 quarter notes a minute" in flat(pegwright("plate", DEMO, "--tempo", "63").out)


def test_an_inner_face_is_said_in_words_with_the_mirror_image(pegwright: Command, tmp_path: Path) -> None:
    path = written(tmp_path, setting("sheet", drilled_from="inner"))
    text = flat(pegwright("plate", path).out)
    assert (
        "Lay the sheet with its inner face up: the face that will be towards the shaft. Step 1 is at the left and"
        in text
    )
    assert "the first channel at the bottom: the mirror image of the pin sheets" in text


def written(folder: Path, *changes: object) -> Path:
    """A plate file of the demo wheel after changes, in a folder."""
    path = folder / "plate.toml"
    values = changed(demo_values(), *changes)  # type: ignore[arg-type]  # changes of plate_text
    path.write_text(toml_text({**values, "wheel": str(DEMO.parent / "merrow-sands.toml")}), encoding="utf-8")
    return path


def test_a_folder_holds_the_pattern_to_a_hundredth_of_a_mm(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("plate", DEMO, "-o", tmp_path / "out")
    assert done.code == 0
    assert "Next: read plate.txt" in done.out
    (pattern,) = patterns(demo_plate(), demo_wheel())
    rows = table(tmp_path / "out" / "holes.csv")
    places = np.array([[float(row["x_mm"]), float(row["y_mm"])] for row in rows])
    assert np.abs(places - np.stack([pattern.holes.x_mm, pattern.holes.y_mm], axis=1)).max() < 0.001
    pins = [row for row in rows if row["kind"] == "pin"]
    assert (len(pins), len(rows)) == (2120, 2131)
    last = pins[-1]
    assert [last[key] for key in ("tool", "channel", "channel_name", "row_name", "hole", "step")] == [
        "1", "24", "triangle", "on", "32", "32",
    ]  # fmt: skip
    assert [float(last[key]) for key in ("plate_deg", "turn_deg_plate_1", "turn_deg_plate_6")] == [
        58.125,
        58.125,
        358.125,
    ]


def test_the_json_is_as_its_schema_says(pegwright: Command, tmp_path: Path) -> None:
    document = json.loads(pegwright("plate", DEMO, "--json").out)
    closed("plate-1.json").validate(document)
    assert pegwright("plate", DEMO, "-o", tmp_path / "out").code == 0
    assert json.loads((tmp_path / "out" / "plate.json").read_bytes()) == document
    assert document["layers"][0]["flat_sheet_mm"] == pytest.approx(496.597, abs=5e-4)
    assert document["patterns"][0]["hole_count"] == len(document["patterns"][0]["holes"]) == 2131
    assert document["patterns"][0]["plates"] == [1, 2, 3, 4, 5, 6]
    assert document["machine"]["canned_cycles"] is True


def test_the_json_of_a_measured_strip_in_layers_is_as_its_schema_says(pegwright: Command, tmp_path: Path) -> None:
    layers = [
        {"name": "facing", "thickness_mm": 1.5, "material": "steel", "yield_mpa": 235, "modulus_mpa": 210_000},
        {"name": "core", "thickness_mm": 6, "gap_mm": 0.1},
    ]
    strip = {"layer": "core", "holes": 32, "flat_mm": 479.8, "rim_mm": 482.9, "uncertainty_mm": 0.25}
    path = written(tmp_path, lambda values: values.update(layer=layers, strip=strip))
    document = json.loads(pegwright("plate", path, "--json").out)
    closed("plate-1.json").validate(document)
    facing, core = document["layers"]
    assert (facing["k"], facing["k_uncertainty"]) == (0.5, None)
    assert core["k_uncertainty"] == pytest.approx(0.25 * 475.9 / (482.9 * 6), abs=1e-6)
    assert facing["springback_mm"] > 4000
    text = flat(pegwright("plate", path).out)
    assert "let go, it relaxes to an inner radius of" in text
    assert f"k = {core['k']:.3f} measured with a standard uncertainty of {core['k_uncertainty']:.3f}" in text
    assert "sheets glued before bending need a measured k for the whole" in text


def test_the_same_input_gives_the_same_bytes(pegwright: Command, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert pegwright("plate", DEMO, "-o", tmp_path / name).code == 0
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes()


def test_plates_that_differ_have_folders_of_their_own(pegwright: Command, tmp_path: Path) -> None:
    text = (DEMO.parent / "merrow-sands.toml").read_text(encoding="utf-8")
    (tmp_path / "wheel.toml").write_text(text + '\n[[lost]]\nrow = "on"\nhole = 4\nplate = 3\n', encoding="utf-8")
    (tmp_path / "plate.toml").write_text(toml_text({**demo_values(), "wheel": "wheel.toml"}), encoding="utf-8")
    done = pegwright("plate", tmp_path / "plate.toml", "-o", tmp_path / "out")
    assert done.code == 0
    assert "plates 1, 2, 4, 5 and 6 of every set: folder plates-1-2-4-5-6, 2,120 pin holes" in flat(done.out)
    assert "plate 3 of every set: folder plate-3, 2,096 pin holes" in flat(done.out)
    third, others = (table(tmp_path / "out" / name / "holes.csv") for name in ("plate-3", "plates-1-2-4-5-6"))
    assert (len(third), len(others)) == (2096 + 11, 2120 + 11)
    assert [key for key in third[0] if key.startswith("turn_deg")] == ["turn_deg_plate_3"]


def test_a_changed_k_changes_the_plate_by_what_the_summary_says(pegwright: Command, tmp_path: Path) -> None:
    places = []
    for k in (0.5, 0.4):
        path = written(tmp_path, setting("sheet", k=k))
        assert pegwright("plate", path, "-o", tmp_path / "out", "--overwrite").code == 0
        places.append(max(float(row["x_mm"]) for row in table(tmp_path / "out" / "holes.csv")))
    last_mm = max(float(row["along_mm"]) for row in table(tmp_path / "out" / "holes.csv"))
    assert places[0] - places[1] == pytest.approx(0.628 * last_mm / 500.037, abs=0.002)


def test_the_starter_is_written_and_read(pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert pegwright("plate").refused(2).endswith("(name a plate file, or write one with `pegwright plate --new`)")
    assert pegwright("wheel", "--new").code == 0
    assert "pegwright plate plate.toml" in pegwright("plate", "--new").out
    assert pegwright("plate").code == 0
    assert "the file exists" in pegwright("plate", "--new").refused(2)
    assert pegwright("plate", "--new", "other").code == 0
    assert (tmp_path / "other.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--new", "x.toml", "--gauge"), "--new goes without other options"),
        (("--gauge", "--strip", "300"), "--gauge and --strip are two parts"),
        (("--overwrite",), "--overwrite goes with -o or --new only"),
        (("--gauge", "--json"), "--json goes with the plates themselves"),
        (("--strip", "3"), "--strip: 3 mm is outside 15.63 to 1500 mm: a step to half the rim"),
        (("--strip", "2000"), "--strip: 2000 mm is outside 15.63 to 1500 mm"),
        (("--strip", "nan"), "'nan' is not a number from 1 to 100000"),
        (("--tempo", "0"), "0 is outside 1 to 1000"),
        (("--tempo", "nan"), "'nan' is not a number from 1 to 1000"),
    ],
    ids=" ".join,
)
def test_options_that_cannot_be_used_are_refused(
    pegwright: Command, arguments: tuple[str, ...], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    named = () if "--new" in arguments else (DEMO,)
    assert words in pegwright("plate", *named, *arguments).refused(2)
    assert list(tmp_path.iterdir()) == []


def test_a_faulty_file_writes_nothing(pegwright: Command, tmp_path: Path) -> None:
    path = written(tmp_path, setting("sheet", k=2))
    done = pegwright("plate", path, "-o", tmp_path / "out")
    assert "sheet.k" in done.refused(2)
    assert not (tmp_path / "out").exists()


def test_a_gauge_shows_ladder_seam_and_every_fixing(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("plate", DEMO, "--gauge", "-o", tmp_path / "gauge")
    assert done.code == 0
    text = flat(done.out)
    assert "13 rungs from 2.2 mm to 2.8 mm" in text
    seam = (
        "so a seam takes two gauges, or one that is sawn through between its ends. Lay right end against left end with"
    )
    assert f"{seam} a gap of 0.30 mm" in text
    with pdfplumber.open(tmp_path / "gauge" / "gauge-set-up-a4.pdf") as sheet:
        assert f"{seam} a gap of 0.30 mm" in flat(" ".join(page.extract_text() for page in sheet.pages))
    assert flat((tmp_path / "gauge" / "gauge.txt").read_text(encoding="utf-8")) in text
    kinds = [row["kind"] for row in table(tmp_path / "gauge" / "holes.csv")]
    assert {kind: kinds.count(kind) for kind in set(kinds)} == {
        "trial": 24,
        "dowel": 1,
        "slot": 2,
        "bolt": 2,
        "mark": 1,
    }


def test_a_strip_gives_the_lines_to_enter(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("plate", DEMO, "--strip", "500", "-o", tmp_path / "strip")
    lines = [line.strip() for line in done.out.splitlines()]
    start = lines.index("[strip]")
    entry = "\n".join(lines[start : start + 5])
    path = tmp_path / "plate.toml"
    values = {**changed(demo_values(), without("sheet", "k")), "wheel": str(DEMO.parent / "merrow-sands.toml")}
    path.write_text(f"{toml_text(values)}\n{entry}\n", encoding="utf-8")
    assert "k = 0.500 measured with a standard uncertainty of 0.041" in flat(pegwright("plate", path).out)
    assert len(table(tmp_path / "strip" / "holes.csv")) == 32


def test_nothing_is_written_over_what_is_read(pegwright: Command, tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    assert "is the plate file itself" in pegwright("plate", path, "-o", path, "--overwrite").refused(2)
    assert path.read_bytes() == before


def test_a_wheel_in_inches_has_its_plate_in_inches(pegwright: Command, tmp_path: Path) -> None:
    text = (DEMO.parent / "merrow-sands.toml").read_text(encoding="utf-8")
    (tmp_path / "wheel.toml").write_text(text.replace("radius_mm = 477.5", "radius_in = 18.7992125984252"))
    (tmp_path / "plate.toml").write_text(toml_text({**demo_values(), "wheel": "wheel.toml"}), encoding="utf-8")
    shown = flat(pegwright("plate", tmp_path / "plate.toml").out)
    assert "cut 19.5511 in long and 14.2520 in wide; on the rim 19.6747 in long" in shown
    assert "a step of 0.61520 in is 0.61134 in" in shown
    assert " mm" not in shown
