"""The rhythm chosen for a bar is the one of least harm among all that its holes allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

import samples
import strategies
import thorough
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.fit.placing import place_song
from pegwright.grid import Loss, hole_grid
from pegwright.placement import Outcome
from pegwright.remedy.budget import Budget
from pegwright.remedy.rhythm_bars import TroubledBar, TurnRhythms
from pegwright.remedy.rhythm_search import Neighbour, RhythmProblem, best_rhythm, times_unheard
from pegwright.score import Score
from pegwright.wheel import PinType, Wheel

QUARTER_US = 500_000
RESOLUTION = 1_000  # so that a tick is half a millisecond
PLENTY = 10_000_000
MOST_FITTED = 120  # rhythms of a bar, which are fitted one by one


class AnyRoom:
    """Room for everything but what is listed."""

    def __init__(self, barred: set[tuple[int, int, int, int]], most_at_odd_places: int = 99) -> None:
        self._barred, self._most = barred, most_at_odd_places

    def pair_allowed(self, first: int, place: int, later: int, other: int) -> bool:
        return (first, place, later, other) not in self._barred

    def within_limits(self, first: int, places: Sequence[int]) -> bool:  # noqa: ARG002  # as in `Room`
        return sum(place % 2 for place in places) <= self._most


def one_interval(written_ms: int, made_ms: int) -> float:
    """How many times what goes unheard the change of one interval between two onsets is."""
    problem = RhythmProblem((0, 2 * written_ms), ((0,), (2 * made_ms,)), RESOLUTION, QUARTER_US, AnyRoom(set()))
    return times_unheard(problem.harm((0, 2 * made_ms)))


@pytest.mark.parametrize(
    ("interval_ms", "unheard_ms"), [(100, 6), (200, 6), (240, 6), (400, 10), (600, 15), (1_000, 25), (3_000, 25)]
)
def test_a_change_counts_in_the_proportions_of_the_published_figures(interval_ms: int, unheard_ms: int) -> None:
    """Friberg and Sundberg 1995, JASA 98(5): 6 ms below about 240 ms, 2.5 % above (worked by arithmetic).

    Intervals over a second count as a second, our bound on what is extrapolated.
    """
    for way in (-1, 1):
        assert one_interval(interval_ms, interval_ms + way * unheard_ms) == pytest.approx(1)
        assert one_interval(interval_ms, interval_ms + way * 3 * unheard_ms) == pytest.approx(3)
    assert one_interval(interval_ms, interval_ms) == 0


def test_changes_of_several_intervals_add_up_as_squares() -> None:
    problem = RhythmProblem((0, 400, 800), ((0,), (412,), (800,)), RESOLUTION, QUARTER_US, AnyRoom(set()))
    assert times_unheard(problem.harm((0, 412, 800))) == pytest.approx(2**0.5)


def test_the_intervals_to_the_onsets_beyond_the_bar_lines_count_as_they_sound() -> None:
    problem = RhythmProblem(
        (1_000,), ((1_012,),), RESOLUTION, QUARTER_US, AnyRoom(set()), Neighbour(600, 612), Neighbour(1_400, 1_400)
    )
    assert problem.changes((1_012,)) == [(400, 400), (400, 388)]
    assert times_unheard(problem.harm((1_012,))) == pytest.approx(1)


@st.composite
def problems(draw: st.DrawFn) -> RhythmProblem:
    """Bars of up to five onsets with few places each, pairs that are barred at random, and a rule over all."""
    count = draw(st.integers(1, 5))
    place = st.integers(0, 24)
    written = sorted(draw(st.sets(place, min_size=count, max_size=count)))
    places = [tuple(sorted(draw(st.sets(place, min_size=1, max_size=6)))) for _ in range(count)]
    pairs = [
        (first, one, later, other)
        for first, later in combinations(range(count), 2)
        for one, other in product(places[first], places[later])
    ]
    barred = set(draw(st.lists(st.sampled_from(pairs), max_size=12))) if pairs else set()
    return RhythmProblem(
        tuple(written),
        tuple(places),
        draw(st.sampled_from([4, 12, 24])),
        draw(st.sampled_from([300_000, 500_000, 2_000_000])),
        AnyRoom(barred, draw(st.integers(1, 5))),
        draw(st.none() | st.builds(Neighbour, st.integers(-9, -1), st.integers(-9, 3))),
        draw(st.none() | st.builds(Neighbour, st.integers(25, 30), st.integers(20, 30))),
    )


@settings(max_examples=thorough.cases(80, 400))
@given(problems())
def test_the_choice_equals_an_exhaustive_search(problem: RhythmProblem) -> None:
    def allowed(places: tuple[int, ...]) -> bool:
        before = [problem.before.sounding_ticks] if problem.before else []
        after = [problem.after.sounding_ticks] if problem.after else []
        line = [*before, *places, *after]
        pairs = combinations(enumerate(places), 2)
        return (
            all(one < other for one, other in pairwise(line))
            and all(problem.room.pair_allowed(*one, *other) for one, other in pairs)
            and problem.room.within_limits(0, places)
        )

    def rank(places: tuple[int, ...]) -> tuple[int, int, tuple[int, ...]]:
        moved = sum(abs(place - at) for place, at in zip(places, problem.written_ticks, strict=True))
        return problem.harm(places), moved, places

    rhythms = [places for places in product(*problem.places) if allowed(places)]
    event(f"{min(len(rhythms), 3)} rhythms or more")
    assert best_rhythm(problem, Budget(PLENTY)) == min(rhythms, key=rank, default=None)


def test_a_search_stops_when_its_work_is_spent_and_says_so() -> None:
    places = tuple(range(0, 4_000, 10))
    problem = RhythmProblem((5, 15, 25), (places,) * 3, RESOLUTION, QUARTER_US, AnyRoom(set()))
    budget = Budget(1_000)
    assert best_rhythm(problem, budget) is None
    assert (budget.complete, budget.spent) == (False, 0)


@st.composite
def small_bars(draw: st.DrawFn) -> tuple[Score, Wheel]:
    """A bar of two or three onsets on a wheel of plain pins of which each pitch has one channel."""
    wheel = draw(strategies.wheels())
    pitches, keys, channels = set[int](), set[int](), []
    for channel in wheel.channels:
        own = tuple(pitch for pitch in channel.pitches if pitch not in pitches)
        drums = tuple(key for key in channel.drum_keys if key not in keys)
        pitches, keys = pitches | set(own), keys | set(drums)
        channels.append(replace(channel, pitches=own, drum_keys=drums))
    wheel = replace(wheel, channels=tuple(channels), pin_types=(PinType("peg", 1000),))
    resolution = draw(st.sampled_from([12, 24]))
    turn_ticks = int(min(Fraction(4), wheel.turn_quarters) * resolution)
    onsets = draw(st.sets(st.integers(0, turn_ticks - 1), min_size=2, max_size=3))
    sounds = [*((pitch, 0) for pitch in sorted(pitches)), *((key, 2) for key in sorted(keys))] or [(60, 0)]
    notes = [
        (onset, pitch, 80, part)
        for onset in sorted(onsets)
        for pitch, part in draw(st.lists(st.sampled_from(sounds), min_size=1, max_size=2, unique=True))
    ]
    score = samples.score(
        notes,
        resolution=resolution,
        us_per_quarter=draw(st.sampled_from([400_000, 500_000, 1_500_000])),
        parts=strategies.PARTS,
    )
    return score, wheel


def harm_of(written: Sequence[Fraction], made: Sequence[Fraction], quarter_ms: Fraction) -> Fraction:
    """The sum of squares in exact numbers, from Friberg and Sundberg 1995: 6 ms, or 2.5 % from 240 ms on."""
    total = Fraction(0)
    for (one, other), (new, later) in zip(pairwise(written), pairwise(made), strict=True):
        interval_ms = (other - one) * quarter_ms
        unheard_ms = max(Fraction(6), min(interval_ms, Fraction(1000)) / 40)
        total += (((later - new) * quarter_ms - interval_ms) / unheard_ms) ** 2
    return total


def holes_of(wheel: Wheel, number: int) -> set[Fraction]:
    """The places of the holes of a channel that are not lost, in quarters from the first step."""
    grid = hole_grid(wheel)
    line = grid.lines[number]
    return {
        Fraction(at, grid.resolution)
        for at, loss in zip(line.position.tolist(), line.loss.tolist(), strict=True)
        if loss == Loss.NONE
    }


@settings(max_examples=thorough.cases(40, 400))
@given(small_bars(), st.integers(0, 3))
def test_on_small_bars_the_choice_is_the_best_of_all_rhythms_that_a_fit_sounds(
    case: tuple[Score, Wheel], start: int
) -> None:
    """Every rhythm of the bar, best first, is fitted without any reach, until one sounds every note exactly."""
    score, wheel = case
    options = FitOptions(start_steps=Fraction(start), reach_quarters=Fraction(0))
    try:
        placement = place_song(score, wheel, options)
    except UsageError:  # a re-strike longer than a turn
        return
    bars = list(TurnRhythms(score, wheel, options, placement).troubled(0, 0, Budget(PLENTY)))
    if not bars:
        return
    assert len(bars) == 1
    (bar,) = bars
    chosen = best_rhythm(bar.problem, Budget(PLENTY))
    best = first_that_sounds(score, wheel, options, bar)
    event("a rhythm" if best else "none")
    quarter_ms = Fraction(int(score.tempo_map.us_per_quarter[0]), 1000)
    if best is None:
        assert chosen is None
        return
    assert chosen is not None
    made = [Fraction(place, bar.problem.resolution) for place in chosen]
    assert sounds(moved(score, bar, made), wheel, options)
    written = onsets_of(bar)
    rounded = Fraction(501, 500), Fraction(1, 100)  # harm is counted in thousandths
    assert harm_of(written, made, quarter_ms) <= harm_of(written, best, quarter_ms) * rounded[0] + rounded[1]


def onsets_of(bar: TroubledBar) -> list[Fraction]:
    return [Fraction(tick, bar.problem.resolution) for tick in bar.problem.written_ticks]


def first_that_sounds(score: Score, wheel: Wheel, options: FitOptions, bar: TroubledBar) -> list[Fraction] | None:
    """Of all rhythms of a bar the one of least harm with which every note of it sounds."""
    written, start = onsets_of(bar), options.start_steps * wheel.step_quarters
    holes = set[Fraction]().union(*(holes_of(wheel, number) for number in range(len(wheel.channels))))
    end = min(Fraction(4), wheel.turn_quarters)
    places = sorted(place for hole in holes if (place := (hole - start) % wheel.turn_quarters) < end)
    quarter_ms = Fraction(int(score.tempo_map.us_per_quarter[0]), 1000)
    allowed = [allowed_places(score, wheel, bar, number) for number in range(len(written))]
    rhythms = (
        made
        for made in combinations(places, len(written))
        if all((place + start) % wheel.turn_quarters in at for place, at in zip(made, allowed, strict=True))
    )
    best_first = sorted(rhythms, key=lambda made: harm_of(written, made, quarter_ms))
    assume(len(best_first) <= MOST_FITTED)
    return next((list(made) for made in best_first if sounds(moved(score, bar, made), wheel, options)), None)


def allowed_places(score: Score, wheel: Wheel, bar: TroubledBar, onset: int) -> set[Fraction]:
    """Where on the turn every note of an onset has a hole of its channel: spares most of the fits."""
    of_notes = []
    for note in bar.notes_at(onset).tolist():
        drum, pitch = score.parts[int(score.part[note])].percussion, int(score.pitch_midi[note])
        sounding = [pitch in (channel.drum_keys if drum else channel.pitches) for channel in wheel.channels]
        of_notes.append(holes_of(wheel, sounding.index(True)))
    return set.intersection(*of_notes)


def moved(score: Score, bar: TroubledBar, made: Sequence[Fraction]) -> Score:
    """The score with the onsets of a bar elsewhere."""
    factor = 480 * 7
    finer = score.in_finer_ticks(factor)
    onset = finer.onset_ticks.copy()
    for number, place in enumerate(made):
        onset[bar.notes_at(number)] = int(place * finer.resolution)
    return replace(finer, onset_ticks=frozen_ints(onset)).in_order()


def sounds(score: Score, wheel: Wheel, options: FitOptions) -> bool:
    """Whether every note that has a channel sounds, by a placement that the verifier finds right."""
    placement = place_song(score, wheel, options)
    assert verify(score, wheel, placement) == ()
    with_channel = placement.outcome != Outcome.NO_CHANNEL
    return bool(np.all(placement.sounding[with_channel]))
