"""The search: what every transposition and start is worth, against fitting each of them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import samples
import strategies
import thorough
from joined import joined_case
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.errors import UsageError
from pegwright.fit import counting
from pegwright.fit.general import General
from pegwright.fit.placing import place_song
from pegwright.grid import hole_grid
from pegwright.placement import Outcome
from pegwright.score import Score
from pegwright.search import parts
from pegwright.search import table as module
from pegwright.search.choices import Search
from pegwright.search.period import grid_period_steps
from pegwright.search.table import search_turns
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import LostHole, StrikeLimit, Wheel


def search_one(
    score: Score,
    wheel: Wheel,
    options: FitOptions,
    transpositions: Sequence[int],
    starts: Sequence[int],
    best_few: int | None = None,
) -> Search:
    return search_turns((score,), wheel, options, transpositions, starts, best_few)


@settings(max_examples=thorough.cases(40, 400))
@given(strategies.scores(), strategies.wheels(), strategies.options(), st.data())
def test_search_equals_fitting_every_transposition_and_start(
    score: Score, wheel: Wheel, options: FitOptions, data: st.DataObject
) -> None:
    """Brute force: the whole fit, once for each."""
    semitones = sorted(data.draw(st.sets(st.integers(-14, 14), min_size=1, max_size=3)))
    starts = range(data.draw(st.integers(0, wheel.turn_steps - 1)), wheel.turn_steps)
    found = search_one(score, wheel, options, semitones, starts)
    ranked = []
    for row, transpose in enumerate(semitones):
        for column, start in enumerate(starts):
            asked = replace(options, transpose_semitones=transpose, start_steps=Fraction(start))
            placement, _ = fit_with_findings(score, wheel, asked)
            assert (found.weight[row, column], found.cost_ticks[row, column]) == (
                placement.weight,
                placement.cost_ticks,
            )
            ranked.append((-placement.weight, placement.cost_ticks, abs(transpose), -transpose, start, transpose))
    assert np.all(found.proved)
    best = found.best()
    *_, start, transpose = min(ranked)
    assert (best.transpose_semitones, best.start_steps) == (transpose, start)
    alike = [rank[4] for rank in ranked if rank[:2] == min(ranked)[:2] and rank[5] == transpose]
    assert found.equals(best) == tuple(alike)
    few = search_one(score, wheel, options, semitones, starts, best_few=2)
    assert few.ranked(2) == found.ranked(2)
    assert few.gap() is None
    for choice in few.ranked(2):
        assert few.equals(choice) == found.equals(choice)
    bound = np.stack([few.weight, -few.cost_ticks])
    exact = np.stack([found.weight, -found.cost_ticks])
    assert np.all((bound == exact).all(axis=0) | ~few.proved)
    assert np.all((bound[0] > exact[0]) | ((bound[0] == exact[0]) & (bound[1] >= exact[1])))


@pytest.mark.parametrize("general", [False, True])
@pytest.mark.parametrize("kind", ["limits", "shared", "offsets"])
def test_search_over_joined_channels_equals_fitting_every_one(
    kind: str, general: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Brute force on 40 turns of each kind, and on 6 by the general solver; mostly the best leaves a note out.

    Some are bounded by prices first, which is otherwise done for many strikes only.
    """
    if general:
        monkeypatch.setattr(counting, "MOST_STATES", 0)
    chance = random.Random(kind)  # noqa: S311  # cases for a test, not secrets
    below = 0
    for number in range(6 if general else 40):
        monkeypatch.setattr(parts, "MANY", 100 if number % 8 else 1)
        song, on = joined_case(chance, kind)
        semitones = [0] if general else [-1, 0, 1]
        found = search_one(song, on, FitOptions(), semitones, range(on.turn_steps))
        few = search_one(song, on, FitOptions(), semitones, range(on.turn_steps), best_few=1)
        assert few.best() == found.best()
        assert few.gap() is None
        assert few.equals(few.best()) == found.equals(few.best())
        for row, transpose in enumerate(semitones):
            for start in range(on.turn_steps):
                options = FitOptions(transpose_semitones=transpose, start_steps=Fraction(start))
                placement = place_song(song, on, options)
                worth = placement.weight, placement.cost_ticks
                assert worth == (found.weight[row, start], found.cost_ticks[row, start])
                assert few.settled[row, start] <= (worth == (few.weight[row, start], few.cost_ticks[row, start]))
                assert (few.weight[row, start], -few.cost_ticks[row, start]) >= (worth[0], -worth[1])
        best = found.best()
        options = FitOptions(transpose_semitones=best.transpose_semitones, start_steps=Fraction(best.start_steps))
        placement = place_song(song, on, options)
        assert verify(song, on, placement) == ()
        below += int(np.any((placement.outcome >= Outcome.HOLE_USED) & (placement.unison < 0)))
    assert below >= (4 if general else 20)


def test_a_search_that_is_stopped_tells_what_it_found_and_what_is_lacking(monkeypatch: pytest.MonkeyPatch) -> None:
    """One start solved only: its worth is that of the fit, and the best of all is within the gap."""
    chance = random.Random(4)  # noqa: S311  # cases for a test, not secrets
    stopped = 0
    for _ in range(30):
        song, on = joined_case(chance, "shared")
        exact = search_one(song, on, FitOptions(), range(-2, 3), range(on.turn_steps)).best()
        monkeypatch.setattr(module, "MOST_STRIKES", 0)
        found = search_one(song, on, FitOptions(), range(-2, 3), range(on.turn_steps), best_few=1)
        monkeypatch.undo()
        best, gap = found.best(), found.gap()
        options = FitOptions(transpose_semitones=best.transpose_semitones, start_steps=Fraction(best.start_steps))
        placement = place_song(song, on, options)
        assert (placement.weight, placement.cost_ticks) == (best.weight, best.cost_ticks)
        assert exact.weight <= best.weight + (gap or 0)
        if gap is None:
            assert (best.weight, best.cost_ticks) == (exact.weight, exact.cost_ticks)
        stopped += gap is not None
    assert stopped > 10


def test_prices_leave_few_starts_to_solve_where_a_limit_joins_all_strikes_round_the_turn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The best of 96 choices under a limit of 5 strikes in 500 ms over all channels is proved by solving a few."""
    chance = random.Random(7)  # noqa: S311  # cases for a test, not secrets
    names = [f"c{number}" for number in range(8)]
    on = samples.wheel(
        [samples.channel(name, [60 + number], restrike_ms=60.0) for number, name in enumerate(names)],
        plate_count=2,
        steps_per_plate=16,
        strike_limits=(StrikeLimit("supply", tuple(names), 5, 500.0),),
    )
    turn = int(on.turn_quarters * 24)
    song = samples.score(
        [(chance.randrange(0, turn, 3), 60 + chance.randrange(8), chance.randint(1, 127)) for _ in range(200)]
    )
    solved: list[int] = []
    settle = parts.WheelPart.settle

    def noted(self: parts.WheelPart, start: int) -> int:
        solved.append(start)
        return settle(self, start)

    monkeypatch.setattr(parts.WheelPart, "settle", noted)
    found = search_one(song, on, FitOptions(), [-1, 0, 1], range(on.turn_steps), best_few=1)
    assert found.gap() is None
    assert len(solved) <= 2
    best = found.best()
    placement = place_song(song, on, FitOptions(best.transpose_semitones, start_steps=Fraction(best.start_steps)))
    assert (placement.weight, placement.cost_ticks) == (best.weight, best.cost_ticks)
    for start in chance.sample(range(on.turn_steps), 4):
        placement = place_song(song, on, FitOptions(start_steps=Fraction(start)))
        assert (placement.weight, -placement.cost_ticks) <= (found.weight[1, start], -found.cost_ticks[1, start])
        assert (placement.weight, -placement.cost_ticks) <= (best.weight, -best.cost_ticks)


def test_turns_of_a_song_are_searched_by_what_they_are_worth_together() -> None:
    chance = random.Random(5)  # noqa: S311  # cases for a test, not secrets
    for _ in range(10):
        song, on = joined_case(chance, "shared")
        other, _ = joined_case(chance, "shared")
        options = FitOptions(us_per_quarter=500_000)
        each = [search_one(turn, on, options, [0, 1], range(on.turn_steps)) for turn in (song, other)]
        both = search_turns((song, other), on, options, [0, 1], range(on.turn_steps))
        assert np.array_equal(both.weight, each[0].weight + each[1].weight)
        assert np.array_equal(both.cost_ticks, each[0].cost_ticks + each[1].cost_ticks)
        few = search_turns((song, other), on, options, [0, 1], range(on.turn_steps), best_few=1)
        assert few.best() == both.best()


def test_what_is_not_proved_is_not_called_best(monkeypatch: pytest.MonkeyPatch) -> None:
    """A solver that gives up: every start is settled, none is proved, and the gap is what might be gained."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)

    def stopped(self: General, aim: np.ndarray) -> tuple[None, int]:
        return None, int(np.maximum(aim, 0).sum()) + 0 * len(self._ways)

    monkeypatch.setattr(General, "_solve", stopped)
    song, on = joined_case(random.Random(6), "shared")  # noqa: S311  # cases for a test, not secrets
    found = search_one(song, on, FitOptions(), [0], range(on.turn_steps))
    assert np.all(found.settled)
    assert not np.all(found.proved)
    gap = found.gap()
    assert gap is not None
    assert gap > 0


def test_the_grid_repeats_every_plate_unless_a_plate_differs() -> None:
    alike = samples.wheel()
    assert grid_period_steps(hole_grid(alike), alike) == 32
    odd = samples.wheel(lost=(LostHole("on", 3, plate=4),))
    assert grid_period_steps(hole_grid(odd), odd) == 192
    whole = samples.wheel(geometry=replace(samples.GEOMETRY, min_wall_mm=0.1))
    assert grid_period_steps(hole_grid(whole), whole) == 2, "the triplet row repeats every two steps"


def test_best_few_are_one_for_each_transposition_best_first() -> None:
    wheel = samples.wheel()
    score = samples.score([(0, 66), (24, 72), (48, 73)])  # channels for 60 to 72
    found = search_one(score, wheel, FitOptions(), range(-12, 13), range(192))
    ranked = found.ranked(5)
    assert ranked[0].transpose_semitones == -1
    assert [choice.transpose_semitones for choice in ranked] == [-1, -2, -3, -4, -5]
    assert len({choice.weight for choice in ranked}) == 1
    assert found.equals(ranked[0]) == tuple(range(192))


@pytest.mark.parametrize(
    ("semitones", "starts", "said"),
    [
        ([], [0], "no transpositions"),
        ([0], [], "no starts"),
        ([200], [0], "200 semitones"),
        ([0], [192], "steps 1 to 192"),
        ([0], [-1], "steps 1 to 192"),
    ],
)
def test_impossible_ranges_are_refused(semitones: list[int], starts: list[int], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        search_one(samples.score([(0, 60)]), samples.wheel(), FitOptions(), semitones, starts)
