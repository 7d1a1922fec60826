"""A song of several turns through every command: all turns are fitted, written, heard and counted."""

from __future__ import annotations

import io
import json
import wave
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, runner
from documents import pages_of
from pegwright.ask.options import FitOptions
from pegwright.config import load_wheel
from pegwright.fit.placing import TurnFit, fit_turns
from pegwright.read.pinmap import read_pin_map
from pegwright.score import Score
from pegwright.search import fits
from pegwright.song_pipeline.fitting import fit_score
from pegwright.wheel import Wheel
from pegwright.write.report.text import report_text
from samples import score, wheel
from schemas import closed

ROUND = SONGS / "round-the-pier-and-back.mxl"  # 24 bars: two turns of twelve
COMMITTEE = SONGS / "the-committee-regrets.musicxml"  # 14 bars: two beyond a turn
TURN_S = 48 * 60 / 104


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from pegwright.ask.request import Request
    from pegwright.draw.paper import paper_named
    from pegwright.song_pipeline.files import song_files
    from pegwright.song_pipeline.fitting import fit_file, remedies_for
    from pegwright.write.folder import write_folder

    fitted = fit_file(ROUND, load_wheel(WHEEL), Request())
    path = tmp_path_factory.mktemp("pins") / "round"
    write_folder(path, song_files(fitted, remedies_for(fitted), paper_named("a4"), 5.0), overwrite=False)
    return path


def test_every_set_has_its_own_map_and_plates(folder: Path) -> None:
    wheel = load_wheel(WHEEL)
    notes = []
    for letter, turn in (("A", 1), ("B", 2)):
        assert len(sorted((folder / letter).glob("plate-*.csv"))) == wheel.plate_count
        document = json.loads((folder / letter / "pin-map.json").read_text(encoding="utf-8"))
        assert document["version"] == 3
        assert document["set"] == {"letter": letter, "running_order": "A B", "turns": [turn]}
        assert document["score"]["title"].endswith(f"({letter})")
        assert list(closed("pin-map-3.json").iter_errors(document)) == []
        assert read_pin_map(folder / letter / "pin-map.json", wheel=wheel).pin_count == document["pin_count"]
        notes += [pin["note"] for plate in document["plates"] for pin in plate["pins"]]
    assert sorted(notes) == list(range(1, 383)), "every note of the song has one pin, by its number in the song"


def test_the_report_counts_all_turns(folder: Path) -> None:
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert list(closed("fit-report-3.json").iter_errors(report)) == []
    count = report["count"]
    assert (count["read"], count["sounding"], count["own_pin"], count["left_out"]) == (382, 382, 382, 0)
    assert [(turn["turn"], turn["set"], turn["notes"]) for turn in report["running_order"]] == [
        (1, "A", 163),
        (2, "B", 219),
    ]
    assert [turn["bars"] for turn in report["running_order"]] == [["1", "12"], ["13", "24"]]
    text = (folder / "report.txt").read_text(encoding="utf-8")
    assert text.startswith("All 382 notes sound.")
    assert "Turns   A B: 2 turns with 2 different sets of plates" in text


def test_sheets_are_headed_with_letter_turn_and_bars(folder: Path) -> None:
    sets = [pages_of(folder / "print-a4.pdf", f"Set of plates {letter}", "Pin sheets") for letter in "AB"]
    texts = [page.extract_text() for pages in sets for page in pages]
    assert len(texts) == 2 * load_wheel(WHEEL).plate_count
    for number, text in enumerate(texts):
        letter, turn, bars = ("A", 1, "bars 1 to 12") if number < len(texts) // 2 else ("B", 2, "bars 13 to 24")
        assert f"Round the Pier and Back ({letter})" in text
        assert f"turn {turn}, {bars}" in text


def test_pins_to_own_are_counted_for_every_set(folder: Path) -> None:
    count = json.loads((folder / "pin-count.json").read_text(encoding="utf-8"))
    maps = [json.loads((folder / letter / "pin-map.json").read_text(encoding="utf-8")) for letter in "AB"]
    assert sum(need["pins"] for need in count["pin_types"]) == sum(document["pin_count"] for document in maps)


def test_a_song_is_heard_through_all_its_turns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seconds: list[float] = []
    for turns in ([], ["--turns", "1"], ["--turns", "3"]):
        out = tmp_path / f"{len(seconds)}.wav"
        ran = runner(capsys)("hear", ROUND, "-w", WHEEL, "-o", out, *turns)
        assert ran.code == 0
        with wave.open(io.BytesIO(out.read_bytes())) as sound:
            seconds.append(sound.getnframes() / sound.getframerate())
    assert seconds[0] == pytest.approx(2 * TURN_S, abs=3.5)
    assert seconds[1] == pytest.approx(TURN_S, abs=3.5)
    assert seconds[2] == pytest.approx(3 * TURN_S, abs=3.5)


def test_one_turn_is_taken_when_it_is_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    ran = runner(capsys)("fit", COMMITTEE, "-w", WHEEL, "--turns", "1", "--json")
    report = json.loads(ran.out)
    assert "running_order" not in report
    assert report["count"]["left_out_by_reason"]["past-turn"] > 0
    whole = json.loads(runner(capsys)("fit", COMMITTEE, "-w", WHEEL, "--json").out)
    assert "past-turn" not in whole["count"]["left_out_by_reason"]
    assert whole["count"]["read"] == report["count"]["read"] == whole["count"]["sounding"] + whole["count"]["left_out"]
    assert {note["turn"] for note in whole["left_out"]} <= {1, 2}


def test_a_wheel_that_is_never_repinned_within_a_song_takes_one_turn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = WHEEL.read_text(encoding="utf-8")
    once = text.replace("plate_sets = 2", "repin_within_song = false\nplate_sets = 2", 1)
    path = tmp_path / "once.toml"
    path.write_text(once, encoding="utf-8")
    report = json.loads(runner(capsys)("fit", ROUND, "-w", path, "--json").out)
    assert "running_order" not in report
    assert report["count"]["left_out_by_reason"] == {"past-turn": 219}


def test_a_song_can_be_cut_at_whole_bars(capsys: pytest.CaptureFixture[str]) -> None:
    waltz = SONGS / "waltz-of-the-empty-deckchairs.musicxml"
    exact, at_bars = (
        json.loads(runner(capsys)("fit", waltz, "-w", WHEEL, "--json", *options).out)
        for options in ([], ["--whole-bars"])
    )
    count = at_bars["count"]
    assert exact["count"]["read"] == count["read"] == count["sounding"] + count["left_out"]


def test_a_long_silence_is_fitted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    fitted: list[int] = []

    def counted(turns: Sequence[Score], wheel: Wheel, options: FitOptions) -> list[TurnFit]:
        fitted.extend(turn.note_count for turn in turns)
        return fit_turns(turns, wheel, options)

    monkeypatch.setattr(fits, "fit_turns", counted)
    on = wheel()
    song = fit_score(score([(0, 60), (24 * 48 * 40 + 6, 62)], resolution=24), on)
    assert fitted == [1, 0, 1]
    assert (len(song.turns), song.running[0], song.running[-1], set(song.running[1:-1])) == (41, 0, 2, {1})
    bars = [turn.score.bar_map.labels[0] for turn in song.turns]
    assert bars == [str(1 + 12 * turn) for turn in range(41)]
    assert [turn.first_note for turn in song.turns] == [0, *[1] * 40]


@pytest.mark.parametrize(
    ("turns", "owned", "said"),
    [
        ("ABCDEFGHI", 3, "needs 9 sets of plates and 3 are owned: 6 sets must be pinned anew while it plays"),
        ("ABA", 1, "needs 2 sets of plates and 1 is owned: 2 sets must be pinned anew while it plays"),
        ("ABAB", 2, ""),
        ("AAAA", 1, ""),
        ("A", 1, ""),
    ],
)
def test_a_song_that_needs_more_sets_of_plates_than_are_owned_is_noted(turns: str, owned: int, said: str) -> None:
    on = replace(wheel(), plate_sets=owned)
    turn_ticks = int(on.turn_quarters * 24)
    notes = [(turn_ticks * turn + 12 * "ABCDEFGHI".index(each), 60) for turn, each in enumerate(turns)]
    notes += [(turn_ticks * turn - 24, 62) for turn in range(1, len(turns) + 1)]  # every turn is full
    song = fit_score(score(notes), on)
    assert (song.running_text.replace(" ", ""), len(song.turns)) == (turns, len(turns))
    text = " ".join(report_text(song, 200).split())
    assert ("must be pinned anew" in text) == bool(said)
    assert f"Note the song {said}" in text or not said
    sets = {"ABCDEFGHI": "9 turns with 9 different sets of plates", "AAAA": "4 turns with 1 set of plates"}
    assert sets.get(turns, "") in text
