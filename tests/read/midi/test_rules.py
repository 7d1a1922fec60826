"""The rules by which MIDI becomes a score, each on a file of a few notes."""

from __future__ import annotations

import re
from dataclasses import asdict
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midi_bytes import END, meta, metre, midi_file, name, note, off, on, program, tempo, tracks_of_notes, vlq
from pegwright import formats
from pegwright.errors import InputError
from pegwright.findings import Severity
from pegwright.read.midi.reader import read_midi
from pegwright.score import Score
from places import ROOT


def read(*bodies: bytes, form: int = 1, division: int = 96) -> tuple[Score, dict[str, tuple[Severity, int]]]:
    """A file of such tracks, read; findings as code to severity and count."""
    score, findings = read_midi(midi_file(*bodies, form=form, division=division), "song.mid")
    return score, {finding.code: (finding.severity, finding.count) for finding in findings}


def spans(score: Score) -> list[tuple[int, int]]:
    return list(zip(score.onset_ticks.tolist(), score.duration_ticks.tolist(), strict=True))


# Notes -----------------------------------------------------------------------------------------------------------


def test_overlapping_notes_of_a_pitch_end_in_the_order_they_began() -> None:
    score, found = read(on(0, 60) + on(48, 60) + off(24, 60) + off(24, 60) + END)
    assert spans(score) == [(0, 72), (48, 48)]
    assert found["overlapping-notes"] == (Severity.NOTE, 1)


def test_where_offs_are_missing_a_note_ends_at_the_next_event_of_its_pitch() -> None:
    body = on(0, 60) + on(48, 60) + off(24, 60) + on(24, 60) + meta(96, 0x2F)
    score, found = read(body)
    assert spans(score) == [(0, 48), (48, 24), (96, 96)]
    assert found["hanging-notes"] == (Severity.MENDED, 2)


def test_one_pitch_without_its_off_does_not_disturb_another() -> None:
    score, found = read(on(0, 60) + note(0, 24, 62) + note(24, 24, 62) + END)
    assert sorted(zip(score.pitch_midi.tolist(), spans(score), strict=True)) == [
        (60, (0, 72)),
        (62, (0, 24)),
        (62, (48, 24)),
    ]
    assert found["hanging-notes"] == (Severity.MENDED, 1)


def test_an_off_with_nothing_sounding_means_nothing() -> None:
    score, found = read(off(0, 60) + off(5, 60) + on(5, 60) + off(10, 60) + off(0, 60) + note(0, 5) + END)
    assert spans(score) == [(10, 10), (20, 5)]
    assert "overlapping-notes" not in found


def test_a_note_of_no_length_is_kept() -> None:
    score, _ = read(on(0, 36, channel=9) + off(0, 36, 9) + END)
    assert spans(score) == [(0, 0)]
    assert score.bar_map.end_ticks == 384


def test_offs_count_for_their_own_track_and_channel_only() -> None:
    score, found = read(on(0, 60) + on(0, 60, channel=1) + off(24, 60, 1) + off(24, 60) + END, note(12, 24) + END)
    assert sorted(spans(score)) == [(0, 24), (0, 48), (12, 24)]
    assert "overlapping-notes" not in found


def test_notes_come_by_onset_then_part_then_pitch() -> None:
    chord = b"".join(on(0, pitch) for pitch in (67, 60, 64)) + b"".join(
        off(24 if pitch == 67 else 0, pitch) for pitch in (67, 60, 64)
    )
    score, _ = read(chord + END, note(0, 24, 55) + END)
    assert score.part.tolist() == [0, 0, 0, 1]
    assert score.pitch_midi.tolist() == [60, 64, 67, 55]


# Parts -----------------------------------------------------------------------------------------------------------


def test_a_track_on_two_channels_is_two_parts() -> None:
    score, _ = read(END, name(b"Bells") + note(0, 24) + note(0, 24, channel=2) + END)
    assert [part.name for part in score.parts] == ["Bells, channel 1", "Bells, channel 3"]


def test_part_names_are_never_empty_and_never_twice() -> None:
    score, _ = read(
        END,
        name(b"Bells") + note(0, 24) + END,
        name(b"Bells") + note(0, 24) + END,
        name(b"Bells (2)") + note(0, 24) + END,
        name(b" \0\x07") + note(0, 24) + END,
        meta(0, 0x04, b"Glockenspiel") + note(0, 24) + END,
    )
    assert [part.name for part in score.parts] == ["Bells", "Bells (2)", "Bells (2) (2)", "Track 5", "Glockenspiel"]


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("Für Elise".encode(), "Für Elise"),
        ("Für Elise".encode("latin-1"), "Für Elise"),
        (b"two\r\nlines\tand\0 nul", "two lines and nul"),
        ("right\u202eto left".encode(), "rightto left"),
        (b"x" * 500, "x" * formats.MAX_NAME_CHARS),
    ],
)
def test_names_are_cleaned(raw: bytes, shown: str) -> None:
    score, _ = read(END, name(raw) + note(0, 24) + END)
    assert score.parts[0].name == shown


def test_the_first_track_names_the_song_where_it_has_no_notes_or_is_the_only_one() -> None:
    assert read(name(b"Waltz") + END, name(b"Bells") + note(0, 24) + END)[0].title == "Waltz"
    assert read(name(b"Waltz") + note(0, 24) + END, form=0)[0].title == "Waltz"
    assert read(name(b"Bells") + note(0, 24) + END, note(0, 24) + END)[0].title == "song"
    assert read(name(b"control track") + END, note(0, 24) + END)[0].title == "song"


def test_the_only_track_leaves_its_parts_named_by_channel() -> None:
    score, _ = read(name(b"Waltz") + note(0, 24) + note(0, 24, channel=9) + END, form=0)
    assert [part.name for part in score.parts] == ["Channel 1", "Channel 10"]


def test_a_parts_program_is_the_one_at_its_first_note() -> None:
    score, _ = read(
        program(0, 9, channel=3) + END,
        program(0, 14) + program(0, 11) + note(10, 24) + program(0, 12) + END,
        note(0, 24, channel=3) + END,
        note(0, 24, channel=4) + END,
    )
    assert [part.program for part in score.parts] == [11, 9, None]


# Time ------------------------------------------------------------------------------------------------------------


def test_tempo_and_metre_of_every_track_hold_for_all() -> None:
    score, found = read(metre(0, 3, 2) + tempo(0, 600_000) + END, tempo(288, 400_000) + note(0, 288) + END)
    assert score.tempo_map.ticks.tolist() == [0, 288]
    assert score.tempo_map.us_per_quarter.tolist() == [600_000, 400_000]
    assert score.bar_map.ticks.tolist() == [0, 288]
    assert score.bar_map.labels == ("1", "2")
    assert (score.bar_map.end_ticks, score.bar_map.stated, score.tempo_map.stated) == (576, True, True)
    assert not found


def test_what_is_not_stated_is_assumed_and_told() -> None:
    score, found = read(note(0, 96) + END)
    assert score.tempo_map.us_per_quarter.tolist() == [500_000]
    assert (score.bar_map.beats.tolist(), score.bar_map.beat_types.tolist()) == ([4], [4])
    assert not score.tempo_map.stated
    assert not score.bar_map.stated
    assert found == {"tempo-assumed": (Severity.NOTE, 1), "metre-assumed": (Severity.NOTE, 1)}


def test_of_two_tempi_at_one_tick_the_last_holds() -> None:
    score, _ = read(tempo(0, 400_000) + tempo(0, 450_000) + tempo(96, 450_000) + note(0, 96) + END)
    assert (score.tempo_map.ticks.tolist(), score.tempo_map.us_per_quarter.tolist()) == ([0], [450_000])


def test_a_tempo_of_nothing_is_left_out() -> None:
    score, found = read(tempo(0, 450_000) + tempo(48, 0) + note(0, 96) + END)
    assert score.tempo_map.us_per_quarter.tolist() == [450_000]
    assert found["midi-tempo"] == (Severity.MENDED, 1)


def test_a_metre_change_inside_a_bar_begins_a_bar() -> None:
    score, found = read(metre(0, 4, 2) + metre(480, 3, 3) + note(0, 144) + END)
    assert score.bar_map.ticks.tolist() == [0, 384, 480]
    assert list(zip(score.bar_map.beats.tolist(), score.bar_map.beat_types.tolist(), strict=True)) == [
        (4, 4),
        (4, 4),
        (3, 8),
    ]
    assert score.bar_map.end_ticks == 624
    assert found["metre-inside-bar"] == (Severity.NOTE, 1)


def test_a_metre_change_a_hair_off_its_bar_line_counts_from_it() -> None:
    for tick in (373, 383, 385, 395):  # within 12, a 32nd
        score, found = read(metre(0, 4, 2) + metre(tick, 3, 2) + note(384 - tick if tick < 384 else 0, 288) + END)
        assert score.bar_map.ticks.tolist() == [0, 384]
        assert "metre-inside-bar" not in found
    for tick in (372, 396):
        assert "metre-inside-bar" in read(metre(0, 4, 2) + metre(tick, 3, 2) + note(0, 288) + END)[1]


def test_of_two_metres_moved_to_one_bar_line_the_last_holds() -> None:
    score, _ = read(metre(0, 4, 2) + metre(373, 1, 6) + metre(1, 3, 2) + note(10, 288) + END)
    assert score.bar_map.ticks.tolist() == [0, 384]
    assert score.bar_map.beats.tolist() == [4, 3]


def test_a_metre_stated_again_changes_nothing() -> None:
    score, _ = read(metre(0, 4, 2) + metre(100, 4, 2) + note(0, 300) + END)
    assert score.bar_map.ticks.tolist() == [0, 384]


@pytest.mark.parametrize("power", [7, 29, 188, 200, 255])
def test_a_metre_of_tiny_beats_is_left_out(power: int) -> None:
    score, found = read(metre(0, 3, 2) + metre(96, 4, power) + metre(0, 0, 2) + note(0, 96) + END)
    assert score.bar_map.beats.tolist() == [3]
    assert found["midi-metre"] == (Severity.MENDED, 2)


def test_beats_of_a_64th_are_the_shortest() -> None:
    assert read(metre(0, 3, 6) + note(0, 96) + END)[0].bar_map.beat_types.tolist()[0] == 64
    _, findings = read_midi(midi_file(metre(0, 3, 7) + note(0, 96) + END), "song.mid")
    assert "of beats shorter than 1/64 left out" in str(next(one for one in findings if one.code == "midi-metre"))


def test_a_bar_that_is_no_whole_number_of_ticks_makes_the_score_finer() -> None:
    score, _ = read(metre(0, 3, 4) + note(1, 2) + note(1, 2) + END, division=1)
    assert score.resolution == 4
    assert spans(score) == [(4, 8), (16, 8)]
    assert set(np.diff(score.bar_map.ticks).tolist()) == {3}
    assert score.tempo_map.ticks.tolist() == [0]


def test_bars_end_with_the_bar_that_holds_the_last_note() -> None:
    assert read(note(0, 384) + END)[0].length_ticks == 384
    assert read(note(0, 384 + 11) + END)[0].length_ticks == 384  # less than a 32nd over the bar line
    assert read(note(0, 384 + 13) + END)[0].length_ticks == 768
    assert read(note(384, 1) + END)[0].length_ticks == 768
    assert read(note(0, 1) + meta(5000, 0x2F))[0].length_ticks == 384


@pytest.mark.parametrize(
    ("division", "tolerance"), [(1, 0), (4, 0), (24, 0), (63, 0), (64, 1), (89, 1), (480, 1), (32767, 1)]
)
def test_tolerance_is_a_tick_of_the_file_but_never_over_a_64th_of_a_quarter(division: int, tolerance: int) -> None:
    score, _ = read(note(0, division) + END, division=division)
    assert (score.resolution, score.tolerance_ticks) == (division, tolerance)


def test_truncated_triplets_are_within_the_tolerance() -> None:
    body = b"".join(note(delta, 80) for delta in (0, 90, 91)) + END  # 0, 170, 341 of 512: thirds of 512 cut off
    score, found = read(body, division=256)
    assert score.onset_ticks.tolist() == [0, 170, 341]
    thirds = [Fraction(number * 512, 3) for number in range(3)]
    assert all(
        abs(tick - third) <= score.tolerance_ticks for tick, third in zip(score.onset_ticks, thirds, strict=True)
    )
    assert "constant-offset" not in found


def test_format_2_plays_its_sequences_in_turn_each_from_a_bar_line() -> None:
    first = tempo(0, 400_000) + metre(0, 3, 2) + note(0, 300) + END
    second = note(0, 96, 62) + meta(96, 0x2F)
    third = tempo(0, 300_000) + note(0, 96, 64) + END
    score, found = read(first, second, third, form=2)
    assert score.onset_ticks.tolist() == [0, 576, 960]
    assert score.bar_map.ticks.tolist() == [0, 288, 576, 960]
    assert score.tempo_map.ticks.tolist() == [0, 576, 960]
    assert score.tempo_map.us_per_quarter.tolist() == [400_000, 500_000, 300_000]
    assert found["midi-format-2"] == (Severity.NOTE, 1)


@pytest.mark.parametrize(
    ("division", "us", "ticks_per_second"),
    [
        (0xE728, None, Fraction(1000)),
        (0xE850, None, Fraction(24 * 0x50)),
        (0xE764, 461_538, Fraction(2500)),
        (0xE364, None, Fraction(30_000 * 100, 1001)),
        (0xE201, None, Fraction(30)),
        (0xE701, None, Fraction(25)),
    ],
)
def test_film_frames_keep_clock_time(division: int, us: int | None, ticks_per_second: Fraction) -> None:
    head = tempo(0, us) if us else b""
    score, found = read(head + note(1000, 500) + tempo(0, 250_000) + note(500, 1) + END, division=division)
    ms_per_unit = Fraction(int(score.tempo_map.us_per_quarter[0]), 1000 * score.resolution)
    truth_ms = [1000 * Fraction(tick) / ticks_per_second for tick in (1000, 2000)]
    for onset, truth in zip(score.onset_ticks.tolist(), truth_ms, strict=True):
        # The tempo is a whole number of microseconds: half of one in each quarter note is the most it can be out.
        assert abs(onset * ms_per_unit - truth) <= truth / 2 / int(score.tempo_map.us_per_quarter[0])
    assert len(score.tempo_map.ticks) == 1
    assert found["midi-frames"][0] == Severity.NOTE


# What is passed over ---------------------------------------------------------------------------------------------


def test_pedal_and_bends_are_told_when_used() -> None:
    pedal = bytes([0, 0xB0, 64, 127, 0, 0xB0, 64, 0, 0, 0xB0, 7, 100])
    bends = bytes([0, 0xE0, 0, 64, 0, 0xE0, 5, 64])
    score, found = read(pedal + bends + note(0, 24) + END)
    assert score.note_count == 1
    assert found["pedal-ignored"] == (Severity.NOTE, 1)
    assert found["bend-ignored"] == (Severity.NOTE, 1)


def test_a_file_without_notes_is_an_empty_song_of_one_bar() -> None:
    score, found = read(name(b"Silence") + END)
    assert (score.note_count, score.parts, score.length_ticks) == (0, (), 384)
    assert score.percussion_notes().tolist() == []
    assert found["no-notes"] == (Severity.NOTE, 1)


# Limits ----------------------------------------------------------------------------------------------------------


def test_a_song_longer_than_the_limit_is_refused() -> None:
    with pytest.raises(InputError, match=r"song\.mid: the last note ends 2,796,203 quarter notes .* at most 100,000"):
        read(on(0xFFFFFFF, 60) + off(1, 60) + END)
    with pytest.raises(InputError, match="bars; at most 100,000 are read"):
        read(metre(0, 1, 6) + note(96 * 9000, 24) + END)


def test_more_notes_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pegwright.read.midi.events.MAX_NOTES", 2)
    read(note(0, 1) * 2 + END)
    with pytest.raises(InputError, match=r"song\.mid: 3 notes; at most 2 are read"):
        read(note(0, 1) * 3 + END)


def test_a_larger_file_than_the_limit_is_refused_unread() -> None:
    with pytest.raises(InputError, match=r"4,194,318 bytes of MIDI; at most 4,194,304 are read"):
        read_midi(midi_file(END, count=1)[:14] + bytes(formats.MAX_MIDI_BYTES), "song.mid")


# Any file --------------------------------------------------------------------------------------------------------

Notes = list[tuple[int, int, int, int, int]]


@st.composite
def note_lists(draw: st.DrawFn) -> Notes:
    """Notes of one track, none overlapping another of its pitch and channel."""
    notes = []
    for pitch, channel in draw(st.lists(st.tuples(st.integers(0, 127), st.integers(0, 15)), max_size=4, unique=True)):
        at = 0
        for gap, length, velocity in draw(
            st.lists(st.tuples(st.integers(0, 300), st.integers(1, 20_000), st.integers(1, 127)), max_size=5)
        ):
            notes.append((at + gap, length, pitch, velocity, channel))
            at += gap + length
    return notes


@given(st.lists(note_lists(), min_size=1, max_size=4), st.booleans(), st.booleans())
def test_notes_written_are_the_notes_read(tracks: list[Notes], running: bool, zero_offs: bool) -> None:
    data = tracks_of_notes(tracks, running, zero_offs)
    score, _ = read_midi(data, "any.mid")
    columns = (score.onset_ticks, score.duration_ticks, score.pitch_midi, score.velocity)
    got = sorted(zip(*(column.tolist() for column in columns), strict=True))
    assert got == sorted(row[:4] for notes in tracks for row in notes)
    drums = sum(row[4] == 9 for notes in tracks for row in notes)
    assert int(score.percussion_notes().sum()) == drums


@given(st.lists(note_lists(), min_size=1, max_size=3))
def test_the_same_bytes_give_the_same_score(tracks: list[Notes]) -> None:
    data = tracks_of_notes(tracks, running=True, zero_offs=False)
    one, two = (read_midi(data, "any.mid") for _ in range(2))
    assert one[1] == two[1]
    assert repr(asdict(one[0])) == repr(asdict(two[0]))


@given(
    st.lists(st.tuples(st.booleans(), st.integers(0, 40), st.integers(60, 61)), max_size=30),
    st.integers(0, 50),
)
def test_pairing_follows_its_rule_event_by_event(events: list[tuple[bool, int, int]], tail: int) -> None:
    """Against the rule spelt out one event at a time."""
    body = b"".join((on if is_on else off)(delta, pitch) for is_on, delta, pitch in events) + vlq(tail) + END[1:]
    score, found = read(END, body)
    tick = 0
    by_pitch: dict[int, list[tuple[int, bool]]] = {60: [], 61: []}
    for is_on, delta, pitch in events:
        tick += delta
        by_pitch[pitch].append((tick, is_on))
    expected = []
    hanging_count = 0
    for pitch, timeline in by_pitch.items():
        waiting: list[int] = []
        done = []
        for at, is_on in timeline:
            if is_on:
                waiting.append(at)
            elif waiting:
                done.append((waiting.pop(0), at, pitch))
        hanging_count += len(waiting)
        if waiting:
            later = [*(at for at, _ in timeline[1:]), tick + tail]
            done = [(at, end, pitch) for (at, is_on), end in zip(timeline, later, strict=True) if is_on]
        expected += [(begin, end - begin, pitch) for begin, end, pitch in done]
    got = zip(score.onset_ticks.tolist(), score.duration_ticks.tolist(), score.pitch_midi.tolist(), strict=True)
    assert sorted(got) == sorted(expected)
    assert found.get("hanging-notes", (None, 0))[1] == hanging_count


def test_the_docs_tell_every_finding_and_no_other() -> None:
    """Finding codes are the hyphened words in double quotes where findings are made."""
    root = ROOT
    sources = sorted((root / "src/pegwright/read/midi").glob("*.py"))
    pattern = r"\"((?:midi|no|hanging|overlapping|tempo|metre|constant|pedal|bend)-[a-z0-9-]+)\""
    made = {code for source in sources for code in re.findall(pattern, source.read_text(encoding="utf-8"))}
    told = set(re.findall(r"`([a-z0-9]+(?:-[a-z0-9]+)+)`", (root / "docs/reading-midi.md").read_text(encoding="utf-8")))
    assert made == told
