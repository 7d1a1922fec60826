"""Ornaments written out as strikes; every stage before the fit keeps them with their notes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import strategies
from musicxml_text import note as xml_note
from musicxml_text import one_bar
from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.columns import frozen_ints
from pegwright.config import load_wheel
from pegwright.edit.bars import select_bars
from pegwright.edit.offset import shift
from pegwright.edit.ornaments import MAX_STRIKES, write_out_ornaments
from pegwright.edit.parts import move_part
from pegwright.edit.swing import swing_score
from pegwright.edit.thinning import thin
from pegwright.errors import UsageError
from pegwright.score import NO_ORNAMENT, Ornament, OrnamentKind, Score
from pegwright.song_pipeline.fitting import fit_file
from places import ROOT
from samples import score

WHEEL = ROOT / "songs" / "merrow-sands.toml"
GRAIN = Fraction(1, 8)  # a 32nd in quarters
KINDS = (
    Ornament(OrnamentKind.TRILL, 2, 0),
    Ornament(OrnamentKind.MORDENT, 0, 1),
    Ornament(OrnamentKind.INVERTED_MORDENT, 1, 0),
    Ornament(OrnamentKind.TURN, 2, 2),
    Ornament(OrnamentKind.INVERTED_TURN, 1, 2),
    Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, 4)),
    Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, 12)),
    Ornament(OrnamentKind.TREMOLO),
)


def one_note(ornament: Ornament, quarters: Fraction | int = 1, pitch: int = 60, resolution: int = 24) -> Score:
    made = score([(0, pitch)], resolution)
    length = frozen_ints([int(quarters * resolution)])
    return replace(made, duration_ticks=length, ornament=frozen_ints([0]), ornaments=(ornament,))


def strikes(song: Score) -> list[tuple[Fraction, Fraction, int]]:
    """(onset, duration, pitch) in quarters."""
    ticks = zip(song.onset_ticks.tolist(), song.duration_ticks.tolist(), song.pitch_midi.tolist(), strict=True)
    return [(Fraction(on, song.resolution), Fraction(length, song.resolution), pitch) for on, length, pitch in ticks]


def in_a_row(lengths_and_pitches: list[tuple[Fraction, int]]) -> list[tuple[Fraction, Fraction, int]]:
    onsets = np.cumsum([Fraction(0), *(length for length, _ in lengths_and_pitches)])
    return [(onset, *each) for onset, each in zip(onsets[:-1], lengths_and_pitches, strict=True)]


@st.composite
def ornamented(draw: st.DrawFn) -> Score:
    song = draw(strategies.scores())
    count = song.note_count
    return replace(
        song,
        duration_ticks=frozen_ints(draw(st.lists(st.integers(0, 3 * song.resolution), min_size=count, max_size=count))),
        ornament=frozen_ints(draw(st.lists(st.integers(NO_ORNAMENT, len(KINDS) - 1), min_size=count, max_size=count))),
        ornaments=KINDS,
    )


def test_a_trill_alternates_and_rests_on_its_main_note() -> None:
    song, findings = write_out_ornaments(one_note(KINDS[0]), GRAIN)
    expected = [(GRAIN, 60), (GRAIN, 62)] * 3 + [(2 * GRAIN, 60)]
    assert strikes(song) == in_a_row(expected)
    assert [(finding.code, finding.count) for finding in findings] == [("ornaments-played", 6)]
    assert findings[0].message == "1 trill played in notes of 1/32: 6 strikes added to 1 note"


def test_turns_go_round_their_main_note() -> None:
    rest = 1 - 4 * GRAIN
    song, _ = write_out_ornaments(one_note(KINDS[3]), GRAIN)
    assert strikes(song) == in_a_row([(GRAIN, 60), (GRAIN, 62), (GRAIN, 60), (GRAIN, 58), (rest, 60)])
    song, _ = write_out_ornaments(one_note(KINDS[4]), GRAIN)
    assert strikes(song) == in_a_row([(GRAIN, 60), (GRAIN, 58), (GRAIN, 60), (GRAIN, 61), (rest, 60)])


@pytest.mark.parametrize("quarters", [Fraction(3, 4), Fraction(1), Fraction(3, 2), Fraction(4)])
def test_mordents_tremolos_and_trills_are_struck_as_music21_strikes_them(quarters: Fraction) -> None:
    from music21 import expressions, note  # a second opinion, slow to load

    def theirs(sign: expressions.Ornament) -> list[tuple[Fraction, Fraction, int]]:
        before, rest, _ = sign.realize(note.Note("C4", quarterLength=quarters))
        return in_a_row(
            [(Fraction(each.quarterLength), each.pitch.midi) for each in [*before, *([rest] if rest else [])]]
        )

    def ours(ornament: Ornament) -> list[tuple[Fraction, Fraction, int]]:
        return strikes(write_out_ornaments(one_note(ornament, quarters), GRAIN)[0])

    assert ours(Ornament(OrnamentKind.MORDENT, 0, 1)) == theirs(expressions.Mordent())
    assert ours(Ornament(OrnamentKind.INVERTED_MORDENT, 2)) == theirs(expressions.InvertedMordent())
    for marks in (2, 3):
        sign = expressions.Tremolo()
        sign.numberOfMarks = marks
        assert ours(Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, 2**marks))) == theirs(sign)
    # Its trill ends on the upper note; ours leaves that last strike out.
    assert ours(KINDS[0])[:-1] == theirs(expressions.Trill())[:-2]


def test_a_tremolo_finer_than_the_grain_is_halved_until_it_is_not() -> None:
    for every, expected in ((Fraction(1, 16), Fraction(1, 8)), (Fraction(1, 12), Fraction(1, 6)), (Fraction(0), GRAIN)):
        song, _ = write_out_ornaments(one_note(Ornament(OrnamentKind.TREMOLO, every_quarters=every)), GRAIN)
        assert [length for _, length, _ in strikes(song)] == [expected] * int(1 / expected)


def test_coarse_ticks_are_refined_and_bars_and_tempi_with_them() -> None:
    before = one_note(KINDS[0], resolution=1)
    song, _ = write_out_ornaments(before, GRAIN)
    assert song.resolution == 8
    assert song.length_ticks == 32
    assert len(strikes(song)) == 7
    assert str(song.source(1)) == "test.mid:Melody:bar 1 beat 1 1/8"


@pytest.mark.parametrize(
    ("ornament", "quarters", "pitch"),
    [
        (KINDS[0], Fraction(1, 4), 60),
        (KINDS[3], Fraction(1, 2), 60),
        (KINDS[5], Fraction(1, 4), 60),
        (KINDS[0], Fraction(1), 126),
        (KINDS[1], Fraction(1), 0),
    ],
)
def test_an_ornament_without_room_stays_plain_and_is_told(ornament: Ornament, quarters: Fraction, pitch: int) -> None:
    song, findings = write_out_ornaments(one_note(ornament, quarters, pitch), GRAIN)
    assert strikes(song) == [(Fraction(0), quarters, pitch)]
    assert [(finding.code, finding.count) for finding in findings] == [("ornaments-plain", 1)]
    assert findings[0].where == "test.mid:Melody:bar 1 beat 1"


@given(ornamented(), st.sampled_from([GRAIN, Fraction(1, 6), Fraction(1, 4), Fraction(1, 32)]))
def test_strikes_fill_their_notes_and_every_one_is_told(song: Score, grain: Fraction) -> None:
    made, findings = write_out_ornaments(song, grain)
    told = {finding.code: finding.count for finding in findings}
    assert made.note_count == song.note_count + told.get("ornaments-played", 0)
    assert made.ornaments == ()
    assert len(made.ornament) == 0
    order = np.lexsort((made.pitch_midi, made.part, made.onset_ticks))
    assert made.note_count == 0 or (made.onset_ticks[order] == made.onset_ticks).all()
    # Length is kept, in all and part by part, and so is every onset with its pitch.
    for part in range(len(song.parts)):
        before, after = (
            Fraction(int(each.duration_ticks[each.part == part].sum()), each.resolution) for each in (song, made)
        )
        assert before == after
    assert {(on, pitch) for on, _, pitch in strikes(song)} <= {(on, pitch) for on, _, pitch in strikes(made)}
    assert write_out_ornaments(made, grain)[1] == ()


@given(strategies.scores())
def test_a_song_without_ornaments_stays_as_it_is(song: Score) -> None:
    made, findings = write_out_ornaments(song, GRAIN)
    assert findings == ()
    assert strikes(made) == strikes(song)
    assert made.resolution == song.resolution


def carried(song: Score) -> list[tuple[int, int]]:
    """(identity of a note, its ornament): velocities are made to tell notes apart."""
    return sorted(zip(song.velocity.tolist(), song.ornament.tolist(), strict=True))


@given(ornamented(), st.data())
def test_every_edit_keeps_ornaments_with_their_notes(song: Score, data: st.DataObject) -> None:
    song = replace(song, velocity=frozen_ints(np.arange(song.note_count) + 1))  # every note another
    bars = len(song.bar_map.ticks)
    first = data.draw(st.integers(1, bars))
    whole = dict(carried(song))
    for edited in (
        select_bars(song, first, data.draw(st.integers(first, bars))),
        thin(song, data.draw(st.integers(1, 3)), FitOptions())[0],
        shift(song, data.draw(st.integers(-song.resolution, int(song.onset_ticks[0]) if song.note_count else 0))),
        move_part(song, "Melody", 3)[0],
        swing_score(song, Fraction(2)),
    ):
        assert len(edited.ornament) == edited.note_count
        assert edited.ornaments == song.ornaments
        assert carried(edited) == [(note, whole[note]) for note in sorted(edited.velocity.tolist())]
    reordered = data.draw(st.permutations(range(song.note_count)))
    assert carried(song.with_notes(np.array(reordered, dtype=np.int64))) == carried(song)


def test_a_note_held_past_the_chosen_bars_is_struck_only_within_them() -> None:
    two_bars = score([(0, 60), (96, 64)])
    held = replace(
        two_bars, duration_ticks=frozen_ints([192, 24]), ornament=frozen_ints([0, NO_ORNAMENT]), ornaments=(KINDS[0],)
    )
    song, _ = write_out_ornaments(select_bars(held, 1, 1), GRAIN)
    assert song.note_count == 31  # 32 of the grain in a bar, the last two one main note
    assert int(song.onset_ticks.max()) < song.length_ticks
    assert int(song.duration_ticks.sum()) == 192  # and the last is held as long as it was


@pytest.mark.parametrize("grain", [Fraction(0), Fraction(-1, 8), Fraction(1), Fraction(1, 64), Fraction(3, 16)])
def test_a_grain_out_of_bounds_is_refused(grain: Fraction) -> None:
    with pytest.raises(UsageError, match="cannot be played"):
        write_out_ornaments(one_note(KINDS[0]), grain)


def test_more_strikes_than_can_be_kept_are_refused() -> None:
    long = one_note(KINDS[0], MAX_STRIKES // 8 + 1)
    long = replace(long, bar_map=replace(long.bar_map, end_ticks=int(long.duration_ticks[0])))
    with pytest.raises(UsageError, match="more than 500,000 strikes"):
        write_out_ornaments(long, GRAIN)
    odd = replace(
        one_note(KINDS[0]),
        ornaments=tuple(Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, p)) for p in (8191, 131071, 524287)),
    )
    with pytest.raises(UsageError, match="divide a quarter note"):
        write_out_ornaments(odd, GRAIN)


def test_a_file_is_fitted_with_its_trill_in_holes_or_left_out_with_reason(tmp_path: Path) -> None:
    trill = "<notations><ornaments><trill-mark/></ornaments></notations>"
    path = tmp_path / "trill.musicxml"
    path.write_bytes(one_bar(xml_note("C5", 2, trill), xml_note("G4", 2)))
    wheel = load_wheel(WHEEL)
    plain, played = (fit_file(path, wheel, Request(ornaments=grain)) for grain in (None, GRAIN))
    assert plain.turns[0].placement.note_count == 2
    assert (played.turns[0].placement.note_count, played.turns[0].placement.left_out_count) == (
        2 + 14,
        0,
    )  # half-steps are 32nds there
    assert [finding.code for finding in plain.findings if "ornament" in finding.code] == ["ornaments"]
    assert [finding.code for finding in played.findings if "ornament" in finding.code] == ["ornaments-played"]
