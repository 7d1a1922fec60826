"""The coverage model and its optimum against trying every set, which knows nothing of programmes and bounds."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

import thorough
from pegwright.remedy.additions import Addition, AdditionKind
from pegwright.verdict.build_out import BuildOut, build_outs, coverage_of
from pegwright.verdict.coverage import Coverage, Covered, notes_by_addition, worth_keeping
from pegwright.verdict.exact_coverage import most_notes, most_pieces
from pegwright.verdict.needs import PieceNeeds, Way, piece_needs
from samples import channel, score, wheel

QUARTER = 24
BELLS = tuple(Addition(AdditionKind.PITCH, pitch) for pitch in range(60, 67))
CHOICES = st.lists(st.sampled_from(BELLS), min_size=1, max_size=2, unique=True).map(tuple)
NEED = st.lists(CHOICES, min_size=1, max_size=3, unique=True).map(tuple)
NEEDS = st.dictionaries(NEED, st.integers(1, 9), max_size=4)


@st.composite
def pieces(draw: st.DrawFn) -> PieceNeeds:
    """A piece of some ways, each with as many notes."""
    ways = [(draw(st.integers(0, 9)), draw(NEEDS), draw(st.sampled_from([0, 0, 0, 5]))) for _ in range(draw(WAYS))]
    notes = max(sounding + sum(needs.values()) + beyond for sounding, needs, beyond in ways)
    return PieceNeeds(
        notes,
        tuple(
            Way(number, 0, sounding, tuple(needs.items()), notes - sounding - sum(needs.values()))
            for number, (sounding, needs, _) in enumerate(ways)
        ),
    )


WAYS = st.integers(1, 4)
PIECES = st.lists(pieces(), min_size=1, max_size=4)


def covered_notes(way: Way, chosen: Collection[Addition]) -> int:
    return way.sounding + sum(
        notes for need, notes in way.needs if all(any(each in chosen for each in choice) for choice in need)
    )


def covered(songs: Collection[PieceNeeds], chosen: Collection[Addition]) -> tuple[int, int]:
    """Pieces and notes that a set covers, counted one by one."""
    best = [max(covered_notes(way, chosen) for way in piece.ways) for piece in songs]
    return sum(notes == piece.notes for notes, piece in zip(best, songs, strict=True)), sum(best)


def every_set(count: int, apart: Collection[tuple[Addition, Addition]] = ()) -> Iterator[tuple[Addition, ...]]:
    for size in range(count + 1):
        for chosen in combinations(BELLS, size):
            if not any(one in chosen and other in chosen for one, other in apart):
                yield chosen


def as_pair(best: BuildOut) -> tuple[int, int]:
    return best.covered.pieces, best.covered.notes


@settings(max_examples=thorough.cases(50, 300), deadline=None)
@given(PIECES, st.sampled_from([(), ((BELLS[0], BELLS[1]), (BELLS[1], BELLS[2]))]))
def test_an_exact_set_is_the_best_of_all_sets(
    songs: list[PieceNeeds], apart: tuple[tuple[Addition, Addition], ...]
) -> None:
    model = Coverage(songs, (), apart)
    sets = build_outs(model, 4)
    before = covered(songs, ())
    for count, best in enumerate(sets, 1):
        most = max(covered(songs, chosen) for chosen in every_set(count, apart))
        assert covered(songs, best.additions) == as_pair(best) == most
        assert best.exact
        assert len(best.additions) <= count
        assert not any(one in best.additions and other in best.additions for one, other in apart)
        assert most > before, "one more addition is listed only where it covers more"
        before = most
    if len(sets) < 4:
        assert max(covered(songs, chosen) for chosen in every_set(len(sets) + 1, apart)) == before


@settings(max_examples=thorough.cases(50, 300), deadline=None)
@given(PIECES, st.sampled_from([0, 5, 20]))
def test_a_set_chosen_one_after_another_says_how_much_better_one_could_be(
    songs: list[PieceNeeds], max_size: int
) -> None:
    """Without any programme, and with one that is solved for its bound alone."""
    for count, best in enumerate(build_outs(Coverage(songs), 4, max_size), 1):
        most = max(covered(songs, chosen) for chosen in every_set(count))
        assert covered(songs, best.additions) == as_pair(best) <= most
        assert best.covered.pieces + best.more_pieces >= most[0]
        as_many = [covered(songs, chosen) for chosen in every_set(count)]
        notes = max(notes for pieces, notes in as_many if pieces >= best.covered.pieces)
        assert best.covered.notes + best.more_notes >= notes
        if as_pair(best) < most:
            event("worse than the best")
            assert not best.exact


@settings(max_examples=thorough.cases(50, 200), deadline=None)
@given(PIECES, st.integers(1, 4))
def test_each_programme_reaches_its_own_maximum(songs: list[PieceNeeds], count: int) -> None:
    model = Coverage(songs)
    if not model.additions:
        return
    every = [covered(songs, chosen) for chosen in every_set(count)]
    whole = most_pieces(model, count)
    assert whole
    assert whole.chosen is not None
    assert covered(songs, whole.chosen)[0] == whole.bound == max(pieces for pieces, _ in every)
    notes = most_notes(model, count, 0)
    assert notes
    assert notes.chosen is not None
    assert covered(songs, notes.chosen)[1] == notes.bound == max(notes for _, notes in every)


@settings(max_examples=thorough.cases(50, 300), deadline=None)
@given(PIECES, st.integers(1, 3))
def test_ways_that_are_left_out_never_cover_more(songs: list[PieceNeeds], count: int) -> None:
    for piece in songs:
        kept = worth_keeping(piece, count)
        for chosen in every_set(count):
            best = max(covered_notes(way, chosen) for way in piece.ways)
            assert max(covered_notes(way, chosen) for way in kept) == best


@settings(max_examples=thorough.cases(50, 300), deadline=None)
@given(PIECES, st.integers(1, 3))
def test_no_set_adds_more_notes_than_its_additions_may(songs: list[PieceNeeds], count: int) -> None:
    model = Coverage(songs)
    may = dict(zip(model.additions, notes_by_addition(model, count).tolist(), strict=True))
    now = covered(songs, ())[1]
    for chosen in every_set(count):
        assert covered(songs, chosen)[1] - now <= sum(may.get(addition, 0) for addition in chosen)


def test_transpositions_differ_in_what_they_need() -> None:
    """One bell lets the piece in a tone higher, where two would be needed as it is written."""
    on = wheel([channel("C", [60]), channel("D", [62])])
    needs = piece_needs(score([(0, 60), (QUARTER, 64), (2 * QUARTER, 58)]), on, 2)
    by_semitones = {way.transpose_semitones: way for way in needs.ways}
    assert {need for need, _ in by_semitones[0].needs} == {((bell(58),),), ((bell(64),),)}
    assert [(need, notes) for need, notes in by_semitones[2].needs] == [(((bell(66),),), 1)]
    assert by_semitones[2].sounding == 2
    (best,) = build_outs(coverage_of([needs], on), 1)
    assert (best.additions, best.covered, best.exact) == ((bell(66),), Covered(1, 3), True)


def bell(pitch: int) -> Addition:
    return Addition(AdditionKind.PITCH, pitch)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(55, 71), min_size=1, max_size=8),
    st.sets(st.integers(58, 66), min_size=1, max_size=4),
    st.integers(0, 3),
)
def test_needs_of_plain_songs_are_their_pitches(pitches: list[int], there: set[int], most: int) -> None:
    """One note on every quarter: nothing but its pitch can keep it out."""
    on = wheel([channel(f"bell {pitch}", [pitch]) for pitch in sorted(there)], steps_per_plate=8)
    needs = piece_needs(score([(QUARTER * number, pitch) for number, pitch in enumerate(pitches)]), on, most)
    assert needs.notes == len(pitches)
    for way in needs.ways:
        now = [pitch + way.transpose_semitones for pitch in pitches]
        assert way.sounding == sum(pitch in there for pitch in now)
        assert dict(way.needs) == {((bell(pitch),),): now.count(pitch) for pitch in set(now) - there}
        assert way.beyond == 0


def test_strikes_too_close_need_a_hammer_and_off_the_grid_a_row() -> None:
    on = wheel([channel("F", [65])], reach_quarters=Fraction(0))
    song = score([(0, 65), (480, 65), (540, 65), (990, 66)], resolution=480, us_per_quarter=480_000)
    (way,) = piece_needs(song, on, 0).ways
    codes = {tuple(tuple(each.code for each in choice) for choice in need): notes for need, notes in way.needs}
    assert codes[(("hammer 2 of F",),)] == 1
    assert any(need[0] == ("pitch 66",) and len(need) == 2 and need[1][0].startswith("row ") for need in codes)
    assert (way.sounding, way.beyond) == (2, 0)


@pytest.mark.parametrize("refused", [AdditionKind.PITCH, AdditionKind.HAMMER])
def test_what_a_wheel_file_refuses_is_never_chosen(refused: AdditionKind) -> None:
    on = wheel([channel("F", [65])])
    song = score([(0, 65), (480, 66), (600, 66)], resolution=480)
    needs = piece_needs(song, on, 0)
    model = coverage_of([needs], on, lambda changed: refused is not AdditionKind.PITCH or len(changed.channels) == 1)
    assert (bell(66) in model.additions) == (refused is not AdditionKind.PITCH)


def test_a_whole_piece_comes_before_many_notes() -> None:
    small = PieceNeeds(2, (Way(0, 0, 1, ((((bell(60),),), 1),), 0),))
    large = PieceNeeds(20, (Way(0, 0, 1, ((((bell(61),),), 9), (((bell(62),),), 9)), 1),))
    first, second = build_outs(Coverage([small, large]), 2)
    assert (first.additions, first.covered, first.exact) == ((bell(60),), Covered(1, 3), True)
    assert (second.additions, second.covered, second.exact) == ((bell(60), bell(61)), Covered(1, 12), True)
