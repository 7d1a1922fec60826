"""Real scores that nobody on this project wrote: each goes through the whole fit with every note accounted for.

They lie in a folder beside the checkout; its MANIFEST.tsv names source and licence of each and gives note
counts made with other programs. Where the folder is missing, these tests say so and skip.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from commands import WHEEL, runner
from pegwright.config import load_wheel
from pegwright.pipeline import fit_file
from pegwright.placement import Outcome, pin_map_sha256
from pegwright.read import read_score
from pegwright.request import Request

FOLDER = Path(__file__).parents[3] / "shared" / "scores"
if not FOLDER.is_dir():
    pytest.skip(f"no real scores at {FOLDER}", allow_module_level=True)

FILES = sorted(path for path in FOLDER.iterdir() if path.suffix in {".mid", ".xml", ".mxl"})
with (FOLDER / "MANIFEST.tsv").open(encoding="utf-8") as manifest:
    COUNTS = {row["file"]: int(row["notes"]) for row in csv.DictReader(manifest, delimiter="\t")}

SAME_PIECE = ("49_m21_schumann_robert_opus48no2.mxl", "50_m21_schumann_robert_dichterliebe_no2.xml")
MIDI_FILES = [path for path in FILES if path.suffix == ".mid"]  # of the others the manifest counts written notes


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_note_is_accounted_for(path: Path) -> None:
    fitted = fit_file(path, load_wheel(WHEEL), Request())
    outcomes = fitted.placement.outcome
    assert fitted.notes_read == len(outcomes)
    assert fitted.placement.placed_count == fitted.pins.pin_count
    assert fitted.placement.placed_count + sum(
        int((outcomes == reason).sum()) for reason in Outcome if reason != Outcome.PLACED
    ) == len(outcomes)


@pytest.mark.parametrize("path", MIDI_FILES, ids=lambda path: path.name)
def test_notes_read_from_midi_are_those_the_manifest_counts(path: Path) -> None:
    assert read_score(path)[0].note_count == COUNTS[path.name]


def test_one_piece_in_two_containers_gives_the_same_pins() -> None:
    fitted = [fit_file(FOLDER / name, load_wheel(WHEEL), Request()) for name in SAME_PIECE]
    for column in ("channel", "plate", "row", "index", "pin_type", "note"):
        assert getattr(fitted[0].pins, column).tolist() == getattr(fitted[1].pins, column).tolist()
    assert pin_map_sha256(fitted[0].pins) == pin_map_sha256(fitted[1].pins)


@pytest.mark.parametrize("path", FILES[::6], ids=lambda path: path.name)
def test_the_command_tells_every_note(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = runner(capsys)("fit", path, "--wheel", WHEEL, "--json")
    assert ran.code == 0, ran.err
    report = json.loads(ran.out)
    assert report["notes"] == report["placed"] + len(report["left_out"])
