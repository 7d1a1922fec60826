"""Note edits: every note is accounted for, and an edit does to its notes what it says and nothing else."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np
import pytest

import thorough
from pegwright.ask.note_edits import MAX_DENOMINATOR, NoteEdit, NoteVerb, Place, note_edit_of
from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.bundled import bundled_songs, bundled_wheel
from pegwright.config import load_wheel
from pegwright.edit.note_edits import edit_notes
from pegwright.errors import UsageError
from pegwright.findings import Severity
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.song_pipeline.fitting import fit_file

WHEEL = load_wheel(bundled_wheel())
SONGS = {path.name: path for path in bundled_songs()}
REGRETS = SONGS["the-committee-regrets.musicxml"]
Note: TypeAlias = tuple[Fraction, str, int]  # onset in quarters, part as the file names it, pitch


def notes_of(score: Score) -> Counter[Note]:
    onsets = (Fraction(tick, score.resolution) for tick in score.onset_ticks.tolist())
    parts = (score.parts[part].written_name for part in score.part.tolist())
    return Counter(zip(onsets, parts, score.pitch_midi.tolist(), strict=True))


def edited(score: Score, *texts: str) -> Score:
    return edit_notes(score, [note_edit_of(text) for text in texts], WHEEL, 0).score


@pytest.fixture(scope="module")
def regrets() -> Score:
    return read_score(REGRETS)[0]


@pytest.mark.parametrize(
    ("text", "gone", "come"),
    [
        ("drop Bass, bar 2, beat 3, B2", (6, 47), None),
        ("move Bass, bar 2, beat 3, B2 to beat 4.5", (6, 47), (Fraction(15, 2), 47)),
        ("move Bass:bar 2 beat 3 B2 to bar 3, beat 1 1/3", (6, 47), (Fraction(25, 3), 47)),
        ("drop 'Bass' bar 2 beat 3: B2", (6, 47), None),  # as a report has it
        ('drop "Bass" bar 2 beat 3: B2 (47)', (6, 47), None),
        ("raise Bass, bar 2, beat 3, B2", (6, 47), (6, 59)),
        ("lower Bass, bar 2, beat 3, B2 by 2 octaves", (6, 47), (6, 23)),
        ("repeat Bass, bar 2, beat 3, B2 at beat 4", None, (7, 47)),
        ("sound Bass, bar 2, beat 3, B2 on bass C3", (6, 47), (6, 48)),
    ],
)
def test_an_edit_changes_its_note_and_no_other(
    regrets: Score, text: str, gone: tuple[int, int] | None, come: tuple[Fraction, int] | None
) -> None:
    now, then = notes_of(regrets), notes_of(edited(regrets, text))
    assert now - then == Counter([(Fraction(gone[0]), "Bass", gone[1])] if gone else [])
    assert then - now == Counter([(Fraction(come[0]), "Bass", come[1])] if come else [])


def test_a_note_put_on_a_channel_is_sounded_by_it_alone_with_the_priority_of_its_part() -> None:
    """Chime G5 sounds at the bar of both parts of chimes; the stroke of a drum takes the key of the other drum."""
    wheel = load_wheel(bundled_wheel())
    drums = [each for each in wheel.channels if each.drum_keys]
    score = read_score(REGRETS)[0]
    note = next(note for note in range(score.note_count) if score.parts[int(score.part[note])].percussion)
    source, key = score.source(note), int(score.pitch_midi[note])
    other = next(each for each in drums if key not in each.drum_keys)
    text = f"sound {source.part}, bar {source.bar}, beat {source.beat}, {key} on {other.name}"
    request = Request(note_edits=(note_edit_of(text),))
    fitted = fit_file(REGRETS, wheel, replace(request, only=("Percussion",)))
    part = next(number for number, part in enumerate(fitted.score.parts) if part.channel)
    (at,) = [note for note in range(fitted.score.note_count) if fitted.score.part[note] == part]
    placement = fitted.whole_placement
    assert placement.sounding[at]
    assert wheel.channels[int(placement.channel[at])].name == other.name
    assert fitted.count.read == score.note_count


def test_of_two_channels_of_one_pitch_the_one_that_is_named_sounds_the_note() -> None:
    score = read_score(REGRETS)[0]
    first, *_, last = [each for each in WHEEL.channels if each.name.startswith("chime")]
    pitch = first.pitches[0]
    note = next(note for note in range(score.note_count) if score.pitch_midi[note] == pitch)
    channels = tuple(replace(each, pitches=first.pitches) if each is last else each for each in WHEEL.channels)
    wheel, source = replace(WHEEL, channels=channels), score.source(note)
    text = f"sound {source.part}, bar {source.bar}, beat {source.beat}, {pitch} on {{}}"
    for channel in (first, last):
        options = FitOptions(part_priorities=((source.part, 7),))
        request = Request(note_edits=(note_edit_of(text.format(channel.name)),), only=(source.part,), options=options)
        fitted = fit_file(REGRETS, wheel, request)
        (at,) = np.flatnonzero(fitted.score.part == len(score.parts))
        placement = fitted.whole_placement
        assert dict(fitted.placements[0].part_priorities)[f"{source.part} on {channel.name}"] == 7
        assert fitted.score.pitch_midi[at] == pitch
        assert placement.sounding[at]
        assert channels[int(placement.channel[at])].name == channel.name


def test_notes_are_found_at_every_time_round_or_at_one() -> None:
    for path in SONGS.values():
        score = read_score(path)[0]
        again = [label for label in score.bar_map.labels if label.endswith("2nd time")]
        if not again:
            continue
        label = again[0].partition(",")[0]
        bar = score.bar_map.labels.index(label)
        note = next(note for note in range(score.note_count) if score.source(note).bar == label)
        source, pitch = score.source(note), int(score.pitch_midi[note])
        name = f"drop {source.part}, bar {label}{{}}, beat {source.beat}, {pitch}"
        counts = [
            score.note_count - edited(score, name.format(time)).note_count
            for time in ("", ", 2nd time", ", every time")
        ]
        assert counts[0] + counts[1] <= counts[2] > counts[0] > 0, (path.name, bar)
        return
    pytest.fail("no bundled song is played again")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("drop Bas, bar 2, beat 3, B2", "the score has no part 'Bas' (the nearest name is 'Bass'; the names are "),
        ("drop Bass, bar 2, beat 3, B3", "names no note (the nearest in bar 2: beat 3, B2; beat 1, G2)"),
        ("drop Bass, bar 99, beat 3, B3", "the score has no bar 99 (its bars are 1 to 14)"),
        ("move Bass, bar 2, beat 3, B2 to beat 5", "leads to beat 5 of bar 2 (that bar ends before beat 5)"),
        ("move Bass, bar 2, beat 3, B2 to bar 15, beat 1", "leads to bar 15, which the score has not"),
        ("raise Bass, bar 2, beat 3, B2 by 20 octaves", "leads to pitch 287 (MIDI pitches go from 0 to 127)"),
        ("raise Percussion, bar 4, beat 4 7/8, 38", "is of a percussion part, which has no octaves"),
        ("sound Bass, bar 2, beat 3, B2 on chim", "has no channel 'chim'"),
    ],
)
def test_an_edit_that_does_not_match_the_score_is_refused_with_what_is_there(
    regrets: Score, text: str, says: str
) -> None:
    with pytest.raises(UsageError) as refused:
        edited(regrets, text)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("dorp Bass, bar 2, beat 3, B2", "does not begin with what is to be done (the nearest name is 'drop'"),
        ("drop Bass, bar 2", "does not name a note by part, bar, beat and pitch (write for example: drop Melody"),
        ("drop Bass, bar 2, beat 3, B2 now", "ends in 'now'"),
        ("move Bass, bar 2, beat 3, B2", "ends too early (write for example: move Melody"),
        ("drop Bass, bar 2, beat 0, B2", "has beat 0, and beats count from 1"),
        ("drop Bass, bar 2, beat 1/0, B2", "has beat 1/0, which divides by 0"),
        ("drop Bass, bar 2, beat 3, 128", "names pitch 128, which is outside 0 to 127"),
        ("", "does not begin with what is to be done"),
    ],
)
def test_a_text_that_is_no_edit_is_refused_with_its_form(text: str, says: str) -> None:
    with pytest.raises(UsageError) as refused:
        note_edit_of(text)
    assert says in str(refused.value)


def random_edit(chance: random.Random, score: Score) -> NoteEdit:
    """An edit of one of the notes, by the names that reports give it."""
    note = chance.randrange(score.note_count)
    source, bars = score.source(note), score.bar_map
    percussion = score.parts[int(score.part[note])].percussion
    pitch = int(score.pitch_midi[note])
    name = f"{source.part}, bar {source.bar}, beat {source.beat}, {pitch if percussion else score.pitch_name(note)}"
    own, bar = bars.bar_of(int(score.onset_ticks[note])), chance.randrange(len(bars.ticks))
    ends = [*bars.ticks[1:].tolist(), bars.end_ticks]
    beats = Fraction((ends[own] - int(bars.ticks[own])) * int(bars.beat_types[own]), 4 * score.resolution)
    beat = 1 + Fraction(chance.randrange(math.ceil(12 * beats)), 12)
    channel = chance.choice([each for each in WHEEL.channels if (each.drum_keys if percussion else each.pitches)])
    return note_edit_of(
        chance.choice(
            [
                f"drop {name}",
                f"move {name} to beat {beat}",
                f"repeat {name} at bar {bars.labels[bar]}, beat 1",
                f"sound {name} on {channel.name}",
                f"drop {name}" if percussion or pitch > 100 else f"raise {name}",
            ]
        )
    )


def test_every_note_read_sounds_is_left_out_or_was_dropped_on_request() -> None:
    chance = random.Random(14)  # noqa: S311
    for number in range(thorough.cases(16, 200)):
        path = list(SONGS.values())[number % len(SONGS)]
        score = read_score(path)[0]
        edits = tuple(random_edit(chance, score) for _ in range(chance.randint(1, 4)))
        fitted = fit_file(path, WHEEL, Request(note_edits=edits))
        result = edit_notes(score, edits, WHEEL, 0)
        assert len(result.findings) == len(edits)
        count = fitted.count
        assert count.read == score.note_count + result.added
        assert count.dropped_by_option.get("note-edit", 0) == result.dropped
        assert count.read == count.sounding + count.left_out + count.dropped
        assert fitted.score.note_count == score.note_count + result.added - result.dropped
        kept = {finding.severity for finding in result.findings}
        assert kept <= {Severity.NOTE, Severity.CHANGED}


def test_edits_that_undo_one_another_give_the_score_as_it_was(regrets: Score) -> None:
    there = edited(regrets, "move Bass, bar 2, beat 3, B2 to beat 4.5", "raise Chimes, bar 3, beat 1, C5")
    back = edited(there, "move Bass, bar 2, beat 4.5, B2 to beat 3", "lower Chimes, bar 3, beat 1, C6")
    assert notes_of(back) == notes_of(regrets)


def test_a_beat_is_a_fraction_of_bounded_parts() -> None:
    edit = note_edit_of("move Pedal: left, bar 5, 2nd time, beat 2 1/3, Bb4 to pickup bar, beat 1.25")
    assert (edit.verb, edit.part, edit.place) == (NoteVerb.MOVE, "Pedal: left", Place("5, 2nd time", Fraction(7, 3)))
    assert (edit.pitch_midi, edit.to, edit.every_time) == (70, Place("0", Fraction(5, 4)), False)
    with pytest.raises(UsageError, match=f"finer than 1/{MAX_DENOMINATOR} of a beat"):
        note_edit_of("drop Bass, bar 2, beat 1.234567, B2")
