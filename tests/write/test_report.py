from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pretty_midi import note_number_to_drum_name

from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_floats
from pegwright.config import load_wheel
from pegwright.errors import InternalError
from pegwright.findings import Finding, Severity
from pegwright.note_count import NoteCount
from pegwright.placement import Outcome, Status
from pegwright.read import read_score
from pegwright.score import Part
from pegwright.tell.counts import count_words
from pegwright.tell.findings import fit_with_findings, reason_code
from pegwright.tell.report import Report
from pegwright.write.report.json import report_json
from pegwright.write.report.text import report_text
from placed import TITLES, Note, Placed, placed, small_wheel, song_of
from places import ROOT
from samples import channel, score, wheel
from schemas import closed, schema

WHEEL = small_wheel()
VALID = closed("fit-report-3.json")
LONGEST_LINE = 100


def text_of(made: Placed, findings: tuple[Finding, ...] = ()) -> str:
    return report_text(song_of(made.score, made.wheel, made.placement, findings, pins=made.pins))


def report_of(made: Placed, findings: tuple[Finding, ...] = ()) -> Report:
    return song_of(made.score, made.wheel, made.placement, findings, pins=made.pins).report


def json_of(made: Placed, findings: tuple[Finding, ...] = ()) -> Any:  # noqa: ANN401  # JSON
    document = json.loads(report_json(song_of(made.score, made.wheel, made.placement, findings, pins=made.pins)))
    VALID.validate(document)
    return document


def mixed() -> Placed:
    """Nine notes: three with a pin (one of them moved), one that shares one, and five left out for four reasons."""
    return placed(
        [
            Note(0, 60, (0, 0, 0, 1, 0)),
            Note(0, 60, Outcome.HOLE_USED, part=1, unison=0),
            Note(3, 60, (0, 0, 1, 1, 0), deviation_ticks=1),
            Note(4, 60, Outcome.RESTRIKE),
            Note(5, 61, Outcome.NO_CHANNEL),
            Note(6, 61, Outcome.NO_CHANNEL),
            Note(7, 72, Outcome.OFF_GRID),
            Note(12, 76, (2, 2, 0, 4, 0), part=1),
            Note(13, 76, Outcome.PAST_TURN, part=1),
        ],
        WHEEL,
    )


def test_notes_read_sound_or_are_left_out() -> None:
    document = json_of(mixed())
    assert document["count"] == {
        "read": 9,
        "sounding": 4,
        "own_pin": 3,
        "shared_pin": 1,
        "left_out": 5,
        "left_out_by_reason": {"no-channel": 2, "off-grid": 1, "restrike": 1, "past-turn": 1},
        "dropped": 0,
        "dropped_by_option": {},
    }
    assert document["placed_by_audibility"] == {"exact": 2, "unheard": 0, "slight": 0, "audible": 1}


fates = st.one_of(
    st.sampled_from([outcome for outcome in Outcome if outcome != Outcome.PLACED]),
    st.builds(lambda plate, index: (0, plate, 0, index, 0), st.integers(0, 2), st.integers(0, 7)),
)
songs = st.lists(
    st.builds(Note, st.integers(0, 90), st.integers(0, 127), fates, st.integers(-3, 3), st.integers(0, 1)), max_size=30
)


@given(songs)
@settings(max_examples=40)
def test_every_note_is_told_exactly_once(notes: list[Note]) -> None:
    made = placed(
        [note if not isinstance(note.fate, Outcome) else replace(note, deviation_ticks=0) for note in notes], WHEEL
    )
    document = json_of(made)
    count = document["count"]
    assert count["read"] == len(notes) == count["sounding"] + count["left_out"]
    assert len(document["left_out"]) == count["left_out"] == sum(count["left_out_by_reason"].values())
    assert Counter(note["reason"] for note in document["left_out"]) == count["left_out_by_reason"]
    levels = document["placed_by_audibility"]
    assert sum(levels.values()) == count["own_pin"]
    assert len(document["moved"]) == count["own_pin"] - levels["exact"]
    told = [note["note"] for note in (*document["left_out"], *document["moved"])]
    assert len(told) == len(set(told))
    away = [n for n, ticks in enumerate(made.placement.deviation_ticks, 1) if ticks]
    assert {note["note"] for note in document["moved"]} == set(away)


def test_a_note_left_out_is_told_with_place_pitch_reason_numbers_and_hint() -> None:
    made = mixed()
    where = str(made.score.source(3))
    finding = Finding("left-out-restrike", Severity.LOST, where, "C4 comes 62.5 ms after another", "play it at 80")
    document = json_of(made, (finding,))
    (told,) = [note for note in document["left_out"] if note["reason"] == "restrike"]
    assert told == {
        "note": 4,
        "source": where,
        "part": "Melody",
        "bar": "1",
        "beat": "1 1/6",
        "pitch_midi": 60,
        "pitch": "C4",
        "channel_name": None,
        "detail": "C4 comes 62.5 ms after another",
        "reason": "restrike",
        "reason_text": "re-strike too soon",
        "hint": "play it at 80",
    }
    assert document["findings"] == []
    assert "'Melody' bar 1 beat 1 1/6: C4 comes 62.5 ms after another (play it at 80)" in text_of(made, (finding,))


def test_a_moved_note_is_told_with_its_ms_and_how_audible_that_is() -> None:
    document = json_of(mixed())
    (told,) = document["moved"]
    assert (told["note"], told["deviation_ms"], told["audibility"]) == (3, 20.833, "audible")
    assert "+20.8 ms  Melody  bar 1 beat 1 1/8  C4 (60)" in text_of(mixed())


def test_a_note_that_shares_a_pin_says_whose() -> None:
    (told,) = json_of(mixed())["shared"]
    assert (told["note"], told["sounded_by_note"]) == (2, 1)
    assert "Sounding by the pin of another note: 1 note\n  'Drums' bar 1 beat 1: " in text_of(mixed())


def test_findings_of_one_place_go_to_its_notes_in_order_and_each_only_once() -> None:
    made = placed([Note(0, 61, Outcome.NO_CHANNEL), Note(0, 63, Outcome.NO_CHANNEL)], WHEEL)
    where = str(made.score.source(0))
    findings = tuple(Finding("left-out-no-channel", Severity.LOST, where, name) for name in ("C#4", "Eb4"))
    assert [note["detail"] for note in json_of(made, findings)["left_out"]] == ["C#4", "Eb4"]


def test_findings_on_anything_else_are_kept_the_gravest_first() -> None:
    made = mixed()
    note = Finding("one-tempo", Severity.NOTE, "test.mid", "the tempo changes")
    lost = Finding(
        "part-dropped", Severity.LOST, str(made.score.source(3)), "a part could not be read", "look at it", 3
    )
    document = json_of(made, (note, lost))
    assert [finding["code"] for finding in document["findings"]] == ["part-dropped", "one-tempo"]
    assert document["findings"][0] == {
        "code": "part-dropped",
        "severity": "lost",
        "where": str(made.score.source(3)),
        "message": "a part could not be read",
        "hint": "look at it",
        "count": 3,
    }


def test_a_summary_of_very_many_notes_is_not_told_twice() -> None:
    summary = Finding("left-out-no-channel", Severity.LOST, "test.mid", "2,400 notes: no channel", count=2400)
    assert json_of(mixed(), (summary,))["findings"] == []


def test_the_verdict_is_one_plain_sentence() -> None:
    def of(notes: list[Note]) -> str:
        made = placed(notes, WHEEL)
        return count_words(made.song.count)

    pin = (0, 0, 0, 1, 0)
    assert of([]) == "The song has no notes: there is nothing to place"
    assert of([Note(0, 60, pin)]) == "The only note sounds"
    assert of([Note(0, 60, pin), Note(0, 60, Outcome.HOLE_USED, part=1, unison=0)]) == (
        "All 2 notes sound (1 shares a pin)"
    )
    assert of([Note(0, 60, pin), *[Note(1, 61, Outcome.NO_CHANNEL)] * 2, Note(2, 60, Outcome.RESTRIKE)]) == (
        "1 of 4 notes sounds; 3 left out: 2 no channel for this pitch, 1 re-strike too soon"
    )


def test_the_verdict_counts_what_was_dropped_on_request_by_option() -> None:
    left_out = {Outcome.OFF_GRID: 1, Outcome.RESTRIKE: 2}
    dropped = {"bars": 2400, "thin": 1}
    assert count_words(NoteCount(2409, 3, 2, left_out, dropped)) == (
        "5 of 2,409 notes sound (2 share a pin); 3 left out: 2 re-strike too soon, 1 off the grid; "
        "2,401 dropped on request: 2,400 by --bars, 1 by --thin"
    )
    assert count_words(NoteCount(3, 2, 0, {}, {"thin": 1})) == (
        "2 of 3 notes sound; none left out; 1 dropped on request: 1 by --thin"
    )


def test_a_count_that_does_not_add_up_is_refused() -> None:
    with pytest.raises(InternalError, match="9 notes read are not 3 with a pin"):
        NoteCount(9, 3, 1, {Outcome.OFF_GRID: 4}, {"thin": 2})


def test_the_text_tells_what_was_fitted_to_what() -> None:
    lines = text_of(mixed()).splitlines()
    assert lines[0].startswith(
        "4 of 9 notes sound (1 shares a pin); 5 left out: 2 no channel for this pitch, 1 off the grid"
    )
    assert "Song    Test song (test.mid), 1 bar" in lines
    assert "Wheel   Test wheel, 3 plates" in lines
    assert "Length  4 quarters, 67 % of a turn" in lines
    assert "Tempo   120 quarter notes a minute, 3 s a turn, 20 revolutions a minute" in lines
    assert "Start   plate 5, step 2" in lines
    assert "Pitch   2 semitones down" in lines


def test_length_is_told_against_the_turn() -> None:
    made = placed([Note(0, 60, (0, 0, 0, 1, 0))], WHEEL)
    for turns, told in ((1, "exactly one turn"), (2, "2 turns")):
        end = made.score.resolution * 6 * turns
        longer = replace(made.score, bar_map=replace(made.score.bar_map, end_ticks=end))
        assert f"{6 * turns} quarters, {told}\n" in report_text(song_of(longer, WHEEL, made.placement, pins=made.pins))


def test_a_search_that_was_stopped_says_how_much_better_a_placement_could_be() -> None:
    made = mixed()
    stopped = replace(made.placement, weight=90, weight_bound=100, status=Status.BOUNDED)
    told = report_text(song_of(made.score, WHEEL, stopped, pins=made.pins))
    assert "Search  stopped before proving the best: at most 10.0 % could be gained" in told
    assert "Search" not in text_of(made)


def test_notes_without_a_channel_are_told_by_pitch_and_part() -> None:
    told = text_of(mixed())
    assert "Left out, no channel for this pitch: 2 notes" in told
    assert "C#4 (61): 2 notes of 'Melody', from bar 1 beat 1 5/24 on" in told


def test_long_lists_are_cut_and_say_by_how_much() -> None:
    made = placed([Note(tick, 60, Outcome.OFF_GRID) for tick in range(40)], WHEEL)
    told = text_of(made)
    assert told.count("bar 1 beat") == 5
    assert "  and 35 more\n" in told
    assert "the report as JSON holds every one" in told
    assert len(json_of(made)["left_out"]) == 40
    assert "holds every one" not in text_of(mixed())


def test_percussion_is_told_by_the_name_of_its_key() -> None:
    """The names of General MIDI as pretty_midi has them."""
    made = placed([Note(0, 49, Outcome.NO_CHANNEL, part=1), Note(6, 51, Outcome.NO_CHANNEL, part=1)], WHEEL)
    assert [note["pitch"] for note in json_of(made)["left_out"]] == list(map(note_number_to_drum_name, (49, 51)))


@given(st.sampled_from(TITLES), st.sampled_from(TITLES))
@settings(max_examples=50)
def test_hostile_names_do_no_harm(title: str, name: str) -> None:
    made = mixed()
    parts = (Part(name or "part"), Part("Drums", percussion=True))
    hostile = replace(
        made,
        score=replace(made.score, title=title, file=name, parts=parts),
        wheel=replace(WHEEL, name=title, channels=(channel(name, [60]), *WHEEL.channels[1:])),
    )
    finding = Finding("one-tempo", Severity.NOTE, name, f"{title} is strange", name)
    told = text_of(hostile, (finding,))
    for mark in "\x1b\0\r\u202e\u200d":
        assert mark not in told
    assert max(map(len, told.encode("utf-8", "replace").decode().splitlines())) <= LONGEST_LINE + 20
    assert json_of(hostile, (finding,))["score"]["title"] == title.encode("utf-8", "replace").decode()


def test_reasons_in_the_schema_are_those_there_are() -> None:
    reasons = [reason_code(outcome) for outcome in Outcome if outcome != Outcome.PLACED]
    assert schema("fit-report-3.json")["$defs"]["reason"]["enum"] == reasons


def test_what_both_files_say_is_described_alike() -> None:
    for shared in ("wheel", "score", "fit", "sha256", "step", "number", "note_count"):
        assert schema("fit-report-3.json")["$defs"][shared] == schema("pin-map-3.json")["$defs"][shared]
    for name in ("pin-map-2.json", "pin-count-1.json", "show-plan-2.json", "survey-1.json"):
        assert schema(name)["$defs"]["note_count"] == schema("pin-map-1.json")["$defs"]["note_count"]


def test_text_and_json_are_equal_on_every_run_and_in_another_process() -> None:
    script = (
        "import sys; sys.path[:0] = sys.argv[1:]; import test_report as t; m = t.mixed();"
        "song = t.song_of(m.score, m.wheel, m.placement, pins=m.pins);"
        "sys.stdout.buffer.write(t.report_json(song) + t.text_of(m).encode())"
    )
    here = Path(__file__).parent
    runs = [
        subprocess.run(
            [sys.executable, "-c", script, str(here), str(here.parent)],
            env={"PYTHONHASHSEED": seed, "COLUMNS": columns},
            capture_output=True,
            check=True,
        ).stdout
        for seed, columns in (("1", "40"), ("2", "200"))
    ]
    made = mixed()
    assert (
        runs[0]
        == runs[1]
        == report_json(song_of(made.score, made.wheel, made.placement, pins=made.pins)) + text_of(made).encode()
    )


def test_a_song_that_a_wheel_cannot_hold_is_told_note_by_note() -> None:
    # the song and what happens to it are described in songs/README.md
    on = load_wheel(ROOT / "songs" / "merrow-sands.toml")
    song, read = read_score(ROOT / "songs" / "the-committee-regrets.musicxml")
    placement, fitted = fit_with_findings(song, on, FitOptions())
    document = json.loads(report_json(song_of(song, on, placement, (*read, *fitted))))
    VALID.validate(document)
    assert document["turns"] == "1 1/6"  # 14 bars of 4/4 on a turn of 48 quarters
    by_reason: dict[str, list[Any]] = {}
    for note in document["left_out"]:
        assert note["detail"]
        by_reason.setdefault(note["reason"], []).append(note)
    assert sorted(note["pitch"] for note in by_reason["no-channel"]) == ["B2", "Bb5", "C#5"]
    assert [(note["bar"], note["pitch"]) for note in by_reason["lost-at-seam"]] == [("4", "Acoustic Snare")]
    assert {note["bar"] for note in by_reason["past-turn"]} == {"13", "14"}
    assert all("slower" in note["hint"] for note in by_reason["restrike"])
    assert all(note["detail"] for note in document["moved"])
    codes = {finding["code"] for finding in document["findings"]}
    assert "longer-than-turn" in codes
    assert not any(code.startswith("left-out") or code == "moved" for code in codes)
    told = report_text(song_of(song, on, placement, (*read, *fitted)))
    assert max(map(len, told.splitlines())) <= LONGEST_LINE
    count = document["count"]
    assert told.startswith(f"{count['sounding']} of {count['read']} notes sound (1 shares a pin); {count['left_out']}")


def test_length_in_turns_is_exact() -> None:
    made = placed([Note(0, 60, (0, 0, 0, 1, 0))], WHEEL)
    thirds = replace(made.score, bar_map=replace(made.score.bar_map, end_ticks=made.score.resolution * 2))
    assert report_of(replace(made, score=thirds)).turns == Fraction(1, 3)


def test_moves_within_the_files_own_rounding_count_as_exact() -> None:
    made = mixed()
    rounded = replace(made.placement, deviation_ms=frozen_floats([0.0] * 9))
    document = json.loads(report_json(song_of(made.score, WHEEL, rounded, pins=made.pins)))
    assert document["placed_by_audibility"]["exact"] == 3
    assert document["moved"] == []


@pytest.mark.parametrize("count", [1, 3000])
def test_large_songs_are_told_in_full(count: int) -> None:
    big = wheel()
    song = score([(tick // 4, 30) for tick in range(count)])
    placement, findings = fit_with_findings(song, big, FitOptions())
    document = json.loads(report_json(song_of(song, big, placement, findings)))
    VALID.validate(document)
    assert len(document["left_out"]) == count
    assert document["findings"] == []
