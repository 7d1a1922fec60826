"""Real scores that nobody on this project wrote: each goes through the whole fit with every note accounted for.

Those in tests/data/scores are always there; more may lie in a folder beside the checkout. The MANIFEST.tsv of each
names source and licence of every file and gives note counts made with other programs.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from commands import WHEEL, runner
from pegwright.ask.request import Request
from pegwright.config import load_wheel
from pegwright.placement import Outcome, pin_map_sha256
from pegwright.read import read_score
from pegwright.song_pipeline.fitting import fit_file
from places import SCORES

FILES = [path for path in SCORES.glob("*") if path.suffix in {".mid", ".xml", ".mxl"}]
SAME_PIECE = ("opus48no2.mxl", "dichterliebe_no2.xml")
MIDI_FILES = [path for path in FILES if path.suffix == ".mid"]  # of the others the manifest counts written notes


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_note_is_accounted_for(path: Path) -> None:
    fitted = fit_file(path, load_wheel(WHEEL), Request())
    outcomes = fitted.whole_placement.outcome
    assert fitted.edited.notes_read == len(outcomes)
    assert fitted.placed_count == sum(turn.pins.pin_count for turn in fitted.turns)
    pinned = [turn.first_note + note + 1 for turn in fitted.turns for note in turn.pins.note.tolist()]
    others = [note.number for note in (*fitted.report.shared, *fitted.report.left_out)]
    assert sorted(pinned + others) == list(range(1, len(outcomes) + 1)), "each in the pin maps or in the report, once"
    assert Outcome.PAST_TURN not in outcomes, "a song takes as many turns as it has"


@pytest.mark.parametrize("path", MIDI_FILES, ids=lambda path: path.name)
def test_notes_read_from_midi_are_those_the_manifest_counts(path: Path) -> None:
    assert read_score(path)[0].note_count == SCORES.note_counts()[path.name][0]


def test_one_piece_in_two_containers_gives_the_same_pins() -> None:
    music21 = pytest.importorskip("music21")
    folder = Path(music21.__file__).parent / "corpus" / "schumann_robert"
    fitted = [fit_file(folder / name, load_wheel(WHEEL), Request()) for name in SAME_PIECE]
    for column in ("channel", "plate", "row", "index", "pin_type", "note"):
        assert getattr(fitted[0].turns[0].pins, column).tolist() == getattr(fitted[1].turns[0].pins, column).tolist()
    assert pin_map_sha256(fitted[0].turns[0].pins) == pin_map_sha256(fitted[1].turns[0].pins)


@pytest.mark.parametrize("path", FILES[::6], ids=lambda path: path.name)
def test_the_command_tells_every_note(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = runner(capsys)("fit", path, "--wheel", WHEEL, "--json")
    assert ran.code == 0, ran.err
    report = json.loads(ran.out)
    assert report["count"]["read"] == report["count"]["own_pin"] + len(report["shared"]) + len(report["left_out"])
