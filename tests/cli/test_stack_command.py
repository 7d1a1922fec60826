"""`pegwright stack` as a maker runs it."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from commands import Command, runner
from places import SONGS
from plate_text import Change, changed, demo_values, setting
from schemas import closed
from toml_text import toml_text

DEMO = SONGS / "merrow-sands-plate.toml"
SONG = SONGS / "shrimpers-jig.mid"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def plate_file(folder: Path, *changes: Change) -> Path:
    """The plate file of the demo wheel after changes."""
    values = changed({**demo_values(), "wheel": str(SONGS / "merrow-sands.toml")}, *changes)
    path = folder / "plate.toml"
    path.write_text(toml_text(values), encoding="utf-8")
    return path


def only(**tables: object) -> Change:
    return lambda values: values.update(tolerances=tables)


def row(text: str, name: str) -> list[float]:
    line = next(line for line in text.splitlines() if line.startswith(name))
    return [float(word) for word in line.split() if re.fullmatch(r"[\d.]+", word)]


def test_every_tolerance_has_its_times_and_all_together(pegwright: Command) -> None:
    done = pegwright("stack", DEMO)
    assert (done.code, done.err) == (0, "")
    assert row(done.out, "run-out")[1] == 2.0  # half of 0.5 mm by the indicator, at 8.0 ms a mm
    assert row(done.out, "pin lean")[:2] == [0.183, pytest.approx(0.183 * 8, abs=0.01)]
    worst, root, simulated, within = (row(done.out, name)[-1] for name in ("worst", "root", "simulation, u", "simul"))
    assert simulated == pytest.approx(root, rel=0.02)
    assert root < within < worst or within == simulated
    assert "Judged by all 192 steps of a turn, each beside the step before it." in done.out
    assert "Of all notes 99.8 % unheard, 0.2 % slight, 0.0 % audible" in done.out
    assert "Halved, reader helps most" in done.out
    slower = pegwright("stack", DEMO, "--tempo", "60")
    assert row(slower.out, "run-out")[1] == 4.0


def test_a_song_is_judged_by_its_notes_at_its_tempo(pegwright: Command) -> None:
    done = pegwright("stack", DEMO, SONG)
    assert "Judged by 205 placed notes of shrimpers-jig.mid" in flat(done.out)
    text = pegwright("fit", SONG, "--wheel", SONGS / "merrow-sands.toml").out
    tempo = re.search(r"([\d.]+) quarter notes a minute", done.out)
    assert tempo
    assert tempo[1] in text
    assert "Halved, speed helps most" in flat(done.out)


def test_json_has_its_schema_and_the_same_figures(pegwright: Command) -> None:
    texts = [pegwright("stack", DEMO, *more, "--json").out for more in ([], [SONG], ["--seed", "2"])]
    documents = [json.loads(text) for text in texts]
    for document in documents:
        closed("stack-1.json").validate(document)
        assert sum(document["shares"].values()) == pytest.approx(1, abs=1e-5)
    assert documents[0]["song"] is None
    assert documents[1]["song"] == SONG.name
    assert documents[0]["judged"]["within_95_ms"] != documents[2]["judged"]["within_95_ms"]
    assert pegwright("stack", DEMO, "--json").out == texts[0]
    shares = {each["source"]: each for each in documents[0]["tolerances"]}
    assert documents[0]["halve_first"] == "reader"
    assert min(shares, key=lambda source: shares[source]["halved_95_ms"]) == "reader"


def test_the_error_round_the_turn_is_drawn(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("stack", DEMO, "-o", tmp_path / "error.svg")
    assert done.code == 0
    root = ET.fromstring((tmp_path / "error.svg").read_bytes())  # noqa: S314  # our own
    texts = ["".join(each.itertext()) for each in root.iter(f"{SVG}text")]
    assert {"Error round the turn", "plate 1", "plate 6", "unheard within 6 ms"} <= set(texts)
    assert "Merrow Sands Pavilion" in texts
    dots = list(root.iter(f"{SVG}circle"))
    assert len(dots) == 2 * 192  # a dot for each step in each of the two panels
    heights = [float(each.attrib["cy"]) for each in dots[:192]]
    # Over a turn speed and run-out, once a turn, are greatest by far: the dots of the first panel are a sine.
    assert max(heights) - min(heights) > 30
    assert abs(heights[0] - heights[-1]) < 4
    again = pegwright("stack", DEMO, "-o", tmp_path / "error.svg")
    assert "exists" in again.refused(2)
    assert pegwright("stack", DEMO, "-o", tmp_path / "error.svg", "--overwrite").code == 0


def test_what_cannot_be_added_up_is_refused_in_one_line(pegwright: Command, tmp_path: Path) -> None:
    none = plate_file(tmp_path, lambda values: values.pop("tolerances"))
    assert "does not say what may be off: it has no tolerances" in pegwright("stack", none).refused(2)
    assert "is no .svg file" in pegwright("stack", DEMO, "-o", tmp_path / "x.pdf").refused(2)
    assert "--overwrite goes with -o only" in pegwright("stack", DEMO, "--overwrite").refused(2)
    assert "tempo" in pegwright("stack", DEMO, "--tempo", "0").refused(2)
    assert "seed" in pegwright("stack", DEMO, "--seed", "-1").refused(2)
    wrong = plate_file(tmp_path, only(hole={"half_width_mm": -1}))
    assert "tolerances.hole.half_width_mm" in pegwright("stack", wrong).refused(2)


def test_a_tolerance_that_is_halved_is_heard_less(pegwright: Command, tmp_path: Path) -> None:
    wide = plate_file(tmp_path, only(hole={"half_width_mm": 1.6}))
    before = json.loads(pegwright("stack", wide, "--json").out)
    assert before["shares"]["audible"] == pytest.approx(1 - 10 / (1.6 * before["ms_per_mm"]), abs=0.01)
    halved = plate_file(tmp_path, only(hole={"half_width_mm": 0.8}), setting("sheet", k=0.5))
    after = json.loads(pegwright("stack", halved, "--json").out)
    assert after["shares"]["slight"] == pytest.approx(1 - 6 / (0.8 * after["ms_per_mm"]), abs=0.01)
    assert before["tolerances"][0]["halved_95_ms"] == pytest.approx(after["judged"]["within_95_ms"], rel=0.01)
