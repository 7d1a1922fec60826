"""Channels that depend on one another: the exact best, against exhaustive search and the general solver."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from exhaustive_coupled import coupled
from pegwright.ask.options import ChannelRule, FitOptions
from pegwright.check.verify import verify
from pegwright.errors import UsageError
from pegwright.fit import counting
from pegwright.fit.counting import CountingSolver
from pegwright.fit.general import General
from pegwright.fit.problem import Cap, Cluster, Ways, merit_of
from pegwright.placement import Outcome, Status
from pegwright.score import Part, Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Channel, Collar, LostHole, PinType, Row, StrikeLimit, Wheel
from samples import GEOMETRY, channel, score, wheel

ROWS = (
    Row("on", (Fraction(0),)),
    Row("half", (Fraction(1, 2),), lateral_mm=3.2),
    Row("late", (Fraction(3, 4),), lateral_mm=-3.2),
)
PIN_TYPES = (
    (PinType("peg", 9),),
    (PinType("peg", 9),),
    (PinType("late", 9, 1.3), PinType("peg", 9), PinType("other peg", 9)),
    (PinType("peg", 9), PinType("early", 9, -1.1), PinType("late", 9, 1.1)),
    (PinType("far", 9, 2.9), PinType("near", 9, -0.7)),  # farther apart than some re-strikes; none is quite plain
    (PinType("peg", 9), PinType("early", 9, -1.1, collar=Collar.STAYS), PinType("late", 9, 1.1)),
    (PinType("peg", 9), PinType("bent", 9, 2.9), PinType("ground", 9, 2.9, collar=Collar.STAYS)),
    (PinType("peg", 9), PinType("early", 9, -2.9, collar=Collar.STAYS), PinType("late", 9, 2.9, collar=Collar.STAYS)),
)


def tiny_case(chance: random.Random) -> tuple[Score, Wheel, FitOptions]:
    """A crowded turn of a few steps on two or three channels with up to two limits, some sharing pitches."""
    plates, steps = chance.choice([(1, 3), (1, 4), (2, 2), (2, 3)])
    step_mm = chance.choice([3.6, 5.0, 9.0])
    kinds = chance.choice(PIN_TYPES)
    count = chance.choice([2, 3])
    shared = chance.choice([[], [], [60], [60, 61], [62]])
    made = [
        channel(
            f"c{number}",
            [60 + number, *shared] if chance.random() < 0.8 else [60 + number],
            restrike_ms=chance.choice([0.0, 10.0, 60.0, 130.0]),
            rows=chance.sample([row.name for row in ROWS], chance.randint(1, 3)),
        )
        for number in range(count)
    ]
    limits = [
        StrikeLimit(
            f"limit {number}",
            tuple(chance.sample([on.name for on in made], chance.randint(1, count))),
            chance.choice([1, 1, 2, 3]),
            chance.choice([0.5, 20.0, 62.5, 100.0, 170.0, 240.0]),
        )
        for number in range(chance.randint(0 if shared or len(kinds) > 1 else 1, 2))
    ]
    lost = [LostHole("on", chance.randrange(steps), None, chance.choice([None, "c1"]))] * chance.randint(0, 1)
    on = wheel(
        made,
        plate_count=plates,
        steps_per_plate=steps,
        rows=ROWS,
        lost=tuple(lost),
        strike_limits=tuple(limits),
        pin_types=kinds,
        reach_quarters=chance.choice([Fraction(1, 16), Fraction(1, 8), Fraction(3, 16)]),
        geometry=replace(
            GEOMETRY,
            radius_mm=step_mm * plates * steps / (2 * np.pi),
            lead_edge_mm=chance.choice([5.0, 2.2, 0.5]),
            trail_edge_mm=chance.choice([5.0, 3.0]),
            min_wall_mm=chance.choice([2.5, 2.5, 0.0]),
        ),
    )
    resolution = chance.choice([12, 16])
    grain = chance.choice([1, 1, 2, 4])
    turn = int(on.turn_quarters * resolution)
    notes = [
        (chance.randrange(0, turn, grain), 60 + chance.randrange(count), chance.choice([1, 60, 60, 127]))
        for _ in range(chance.randint(2, 6 if len(kinds) == 1 else 4))
    ]
    song = score(notes, resolution=resolution, tolerance_ticks=chance.choice([0, 0, 1]))
    start = chance.choice([Fraction(0), Fraction(1), Fraction(3, 2)])
    return (
        song,
        on,
        FitOptions(
            start_steps=start,
            us_per_quarter=chance.choice([340_000, 500_000, 1_200_000]),
            channel_rule=chance.choice(list(ChannelRule)),
        ),
    )


def equals_exhaustive_search(chance: random.Random, cases: int) -> int:
    """Hold so many cases against the oracle; how many had a note left out by a limit."""
    limited = 0
    for _ in range(cases):
        song, on, options = tiny_case(chance)
        placement, _ = fit_with_findings(song, on, options)
        assert verify(song, on, placement) == ()
        assert placement.status == Status.OPTIMAL
        asked = coupled(
            song, on, placement.resolution, options.start_steps, placement.us_per_quarter, options.channel_rule
        )
        worth, expected = asked.best()
        assert (placement.weight, -placement.cost_ticks) == worth[:2]
        for strike, taken in zip(asked.strikes, expected, strict=True):
            note = strike.note
            names = ("channel", "plate", "row", "index", "pin_type")
            found = tuple(int(getattr(placement, name)[note]) for name in names)
            if taken is None:
                assert found[1:] == (-1, -1, -1, -1), (note, asked.strikes)
            else:
                hole = taken.hole
                expected_pin = (taken.channel, hole.plate, hole.row, hole.index, hole.pin_type)
                assert found == expected_pin, (note, asked.strikes)
        limited += bool(np.any(placement.outcome == Outcome.TOO_MANY))
    return limited


@pytest.mark.parametrize("seed", range(8))
def test_equals_exhaustive_search(seed: int) -> None:
    """1,200 crowded turns: same totals as the best of all assignments, and the same holes."""
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    assert equals_exhaustive_search(chance, 150) > 2


@pytest.mark.parametrize("seed", range(4))
def test_the_general_solver_gives_the_same_holes(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same with counting switched off, so that every broken limit goes to the general solver."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    assert equals_exhaustive_search(chance, 60) > 0


def random_cluster(chance: random.Random, strikes: int) -> tuple[Cluster, Ways]:
    """Strikes with a few ways each, every way with a hole of its own, and random caps over neighbouring ways."""
    spans, first = [], 0
    for _ in range(strikes):
        past = first + chance.randint(1, 3)
        spans.append(range(first, past))
        first = past
    caps = []
    for _ in range(2 * strikes):
        low = chance.randrange(first)
        near = list(range(low, min(first, low + 9)))
        members = tuple(sorted(chance.sample(near, chance.randint(1, len(near)))))
        caps.append(Cap(members, chance.choice([1, 1, 2, 3])))
    weight = np.repeat([chance.randint(129, 255) for _ in spans], [len(span) for span in spans])
    cost = np.array([-chance.choice([0, 0, 1, 5]) for _ in range(first)])
    strike = np.repeat(np.arange(strikes), [len(span) for span in spans])
    ways = Ways(np.array([0, *(span.stop for span in spans)]), strike, np.arange(first), (weight, cost))
    return Cluster(tuple(range(strikes)), tuple(spans), tuple(caps)), ways


@pytest.mark.parametrize("seed", range(6))
def test_counting_and_the_general_solver_agree(seed: int) -> None:
    """Two ways of solving with nothing in common, on clusters of 20 strikes: the same ways for every strike."""
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    for _ in range(5):
        cluster, ways = random_cluster(chance, 20)
        merit = merit_of(ways.aims, 20)
        counted = CountingSolver(ways, np.arange(len(ways.hole)), merit).solve(cluster)  # a channel for every way
        general = General(cluster, ways, merit)
        assert counted is not None
        assert general.proved
        assert general.short == 0
        assert counted.total == general.total
        assert counted.take_all() == general.take_all()


def crowded_song(chance: random.Random, notes: int) -> tuple[Score, Wheel]:
    """Eight channels with a limit over half a second, so that all strikes bear on one another all round."""
    on = wheel(
        [channel(f"c{number}", [60 + number], restrike_ms=60.0) for number in range(8)],
        plate_count=2,
        strike_limits=(StrikeLimit("supply", tuple(f"c{number}" for number in range(8)), 5, 500.0),),
    )
    turn = int(on.turn_quarters * 24)
    rows = [(chance.randrange(0, turn, 3), 60 + chance.randrange(8), chance.randint(1, 127)) for _ in range(notes)]
    return score(rows), on


def test_a_cluster_all_round_the_turn_is_proved_best() -> None:
    chance = random.Random(3)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_song(chance, 150)
    placement, findings = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    assert placement.status == Status.OPTIMAL
    assert placement.weight == placement.weight_bound
    assert np.count_nonzero(placement.outcome == Outcome.TOO_MANY) > 30
    told = [finding for finding in findings if finding.code == "left-out-too-many"]
    assert len(told) == np.count_nonzero(placement.outcome == Outcome.TOO_MANY)
    assert all("limit supply allows 5 in 500 ms" in finding.message for finding in told)


@pytest.mark.parametrize("restrike_ms", [60.0, 400.0])
def test_the_general_solver_settles_many_strikes_at_once_and_what_prices_settle_first(
    restrike_ms: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Few programmes, smaller and smaller ones; with 400 ms parts of ways would do better than whole ones."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)
    undecided: list[int] = []
    whole = General._undecided

    def noted(self: General) -> object:
        left = whole(self)
        undecided.append(len(left.columns))
        return left

    monkeypatch.setattr(General, "_undecided", noted)
    chance = random.Random(6)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_song(chance, 110)
    on = replace(on, channels=tuple(replace(made, restrike_ms=restrike_ms) for made in on.channels))
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    assert placement.status == Status.OPTIMAL
    assert len(undecided) < 25  # two for each aim but the third, which takes a few more
    assert max(undecided[2:]) < undecided[0]


def test_a_third_aim_that_is_not_proved_is_not_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A solver that stops before the proof once all other aims are settled: the placement is bounded, not optimal."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)
    chance = random.Random(3)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_song(chance, 150)
    best, _ = fit_with_findings(song, on, FitOptions())
    solve = General._solve

    def stopped(self: General, aim: np.ndarray) -> tuple[np.ndarray | None, int]:
        ranks = np.all(aim >= 0) and not np.all(aim)  # weights are all above 0, and lower aims are not
        return (None, int(aim.sum())) if ranks else solve(self, aim)

    monkeypatch.setattr(General, "_solve", stopped)
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert best.status == Status.OPTIMAL
    assert placement.status == Status.BOUNDED
    assert (placement.weight, placement.weight_bound) == (best.weight, best.weight)
    assert verify(song, on, placement) == ()


def test_a_search_that_is_stopped_says_by_how_much_it_may_be_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing found, as if the solver had given up at once: mended note by note, sound, and told."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)

    def stopped(self: General, aim: np.ndarray) -> tuple[None, int]:
        return None, int(np.maximum(aim, 0).sum()) + 0 * len(self._ways)

    monkeypatch.setattr(General, "_solve", stopped)
    chance = random.Random(3)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_song(chance, 150)
    placement, findings = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    assert placement.status == Status.BOUNDED
    assert placement.weight < placement.weight_bound
    told = [finding for finding in findings if finding.code == "not-proved-best"]
    assert f"at most {placement.weight_bound - placement.weight:,} of" in told[0].message


def test_a_limit_that_nothing_breaks_changes_nothing() -> None:
    chance = random.Random(4)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_song(chance, 40)
    wide = replace(on, strike_limits=(replace(on.strike_limits[0], strikes=40),))
    free = replace(on, strike_limits=())
    one, other = fit_with_findings(song, wide, FitOptions())[0], fit_with_findings(song, free, FitOptions())[0]
    assert one.index.tolist() == other.index.tolist()
    assert one.weight == other.weight


def test_the_window_is_open_at_its_end_and_goes_round() -> None:
    """Steps of 125 ms: two strikes exactly a window apart keep the limit, and so they do across the turn's end."""
    both = [channel("a", [60]), channel("b", [61])]
    for window_ms, outcome in ((125.0, Outcome.PLACED), (125.001, Outcome.TOO_MANY)):
        on = wheel(both, plate_count=1, strike_limits=(StrikeLimit("drive", ("a", "b"), 1, window_ms),))
        assert fit_with_findings(score([(6, 60), (12, 61)]), on, FitOptions())[0].outcome[1] == outcome
        assert fit_with_findings(score([(0, 60), (31 * 6, 61)]), on, FitOptions())[0].outcome[1] == outcome


def test_strikes_at_once_are_counted_each_and_unisons_once() -> None:
    both = [channel("a", [60]), channel("b", [61]), channel("c", [62])]
    on = wheel(both, strike_limits=(StrikeLimit("drive", ("a", "b", "c"), 2, 0.01),))
    song = score([(0, 60, 80), (0, 61, 90), (0, 62, 70), (24, 60, 80), (24, 61, 80), (24, 61, 80)])
    placement, findings = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    assert placement.outcome.tolist() == [0, 0, Outcome.TOO_MANY, 0, 0, Outcome.HOLE_USED]
    message = next(finding.message for finding in findings if finding.code == "left-out-too-many")
    assert "which makes 3 strikes at once with 'Melody' bar 1 beat 1; limit drive allows 2 in 0.01 ms" in message


def test_a_slower_tempo_is_told_where_it_helps() -> None:
    """Notes 62.5 ms apart with 80 ms needed: 120 x 62.5 / 80 = 93.75 quarters a minute, to the tenth below."""
    on = wheel([channel("a", [60]), channel("b", [61])], strike_limits=(StrikeLimit("drive", ("a", "b"), 1, 80.0),))
    song = score([(6, 60), (9, 61)])
    placement, findings = fit_with_findings(song, on, FitOptions())
    assert placement.outcome.tolist() == [Outcome.PLACED, Outcome.TOO_MANY]
    hint = next(finding.hint for finding in findings if finding.code == "left-out-too-many")
    assert hint.startswith("at 93.7 quarter notes a minute or slower there is a hole for it; ")
    slower = fit_with_findings(song, on, FitOptions(us_per_quarter=round(60_000_000 / 93.7)))[0]
    assert slower.placed_count == 2


def test_a_window_longer_than_the_turn_is_refused() -> None:
    on = wheel(plate_count=1, strike_limits=(StrikeLimit("drive", ("bar 60",), 9, 50_000.0),))
    with pytest.raises(UsageError, match="a whole turn lasts 4000 ms at this tempo, less than the window"):
        fit_with_findings(score([(0, 60)]), on, FitOptions())


def hammers(count: int, restrike_ms: float = 200.0) -> list[Channel]:
    """Channels that sound the same pitch."""
    return [channel(f"hammer {number}", [60], restrike_ms=restrike_ms) for number in range(count)]


def test_a_second_hammer_takes_quick_repeats_and_a_third_note_at_once_is_left_out() -> None:
    """Eighths 125 ms apart need two hammers of 200 ms; 32nds would need four."""
    on = wheel(hammers(2))
    eighths = score([(6 * place, 60) for place in range(20)])
    placement, findings = fit_with_findings(eighths, on, FitOptions())
    assert verify(eighths, on, placement) == ()
    assert placement.placed_count == 20
    assert not np.any(placement.deviation_ticks)
    assert np.all(np.diff(placement.channel) != 0)
    assert findings == ()
    thirty_seconds = score([(3 * place, 60) for place in range(20)])
    placement, findings = fit_with_findings(thirty_seconds, on, FitOptions())
    assert verify(thirty_seconds, on, placement) == ()
    assert placement.placed_count == 10
    assert {finding.code for finding in findings} == {"left-out-restrike"}


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (ChannelRule.PREFER, [0, 0, 0, 1, 0, 0]),
        (ChannelRule.ALTERNATE, [0, 1, 2, 0, 1, 2]),
    ],
)
def test_the_rule_decides_where_any_channel_would_do(rule: ChannelRule, expected: list[int]) -> None:
    """The fourth note comes 125 ms after the third, too soon for the same hammer."""
    song = score([(0, 60), (24, 60), (48, 60), (54, 60), (84, 60), (108, 60)])
    placement, _ = fit_with_findings(song, wheel(hammers(3)), FitOptions(channel_rule=rule))
    assert placement.channel.tolist() == expected


def test_alternate_comes_back_to_a_channel_that_only_one_note_needed() -> None:
    both = [channel("first", [60, 61]), channel("second", [60])]
    song = score([(0, 61), (24, 61), (48, 60), (72, 60), (96, 60)])
    alternate, _ = fit_with_findings(song, wheel(both), FitOptions(channel_rule=ChannelRule.ALTERNATE))
    assert alternate.channel.tolist() == [0, 0, 1, 0, 1]


def test_the_rule_never_costs_a_note_or_a_move() -> None:
    """Only the first channel has the half hole, so both rules take it there every time."""
    both = [channel("first", [60], rows=["on", "half"]), channel("second", [60], rows=["on"])]
    song = score([(3 + 24 * place, 60) for place in range(6)])
    for rule in ChannelRule:
        placement, _ = fit_with_findings(
            song, wheel(both, reach_quarters=Fraction(1, 8)), FitOptions(channel_rule=rule)
        )
        assert placement.channel.tolist() == [0] * 6


def test_parts_keep_to_their_channels_and_unisons_stay_one_strike() -> None:
    parts = (Part("Melody"), Part("Bass"), Part("Tenor"))
    song = score([(0, 60, 80, 0), (0, 60, 90, 1), (0, 60, 70, 2), (24, 60, 80, 1), (24, 62, 80, 1)], parts=parts)
    on = wheel([channel("string 1", [60]), channel("pipe 1", [60, 62])])
    placement, findings = fit_with_findings(song, on, FitOptions(part_channels=(("Bass", "string*"),)))
    assert verify(song, on, placement) == ()
    assert placement.channel.tolist() == [1, 0, 1, 0, -1]
    assert placement.outcome.tolist() == [0, 0, Outcome.HOLE_USED, 0, Outcome.NO_CHANNEL]
    assert placement.unison.tolist() == [-1, -1, 0, -1, -1]
    told = next(finding for finding in findings if finding.code == "left-out-no-channel")
    assert told.message == "D4 has no channel with a name like 'string*'"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ((("Bas", "*"),), "the score has no part 'Bas', which channels were given for"),
        ((("Melody", "strung*"),), "no channel of Test wheel has a name like 'strung\\*'.*'string 1'"),
    ],
)
def test_parts_and_channels_that_are_not_there_are_told(asked: tuple[tuple[str, str], ...], says: str) -> None:
    on = wheel([channel("string 1", [60]), channel("pipe 1", [60, 62])])
    with pytest.raises(UsageError, match=says):
        fit_with_findings(score([(0, 60)]), on, FitOptions(part_channels=asked))


def test_bad_channels_of_a_placement_are_caught_where_pitches_are_shared() -> None:
    """Each note on every other channel and none, with every hole as it was."""
    chance = random.Random(5)  # noqa: S311  # cases for a test, not secrets
    on = wheel([*hammers(2, 150.0), channel("odd", [60, 61])], plate_count=1)
    song = score([(chance.randrange(0, 192, 3), 60 + chance.randrange(2), chance.randint(1, 127)) for _ in range(60)])
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    assert placement.note_count - placement.placed_count > 10
    passed = []
    for note in range(song.note_count):
        for number in {-1, 0, 1, 2} - {int(placement.channel[note])}:
            column = placement.channel.copy()
            column[note] = number
            if not verify(song, on, replace(placement, channel=column)):
                passed.append((note, number))
    # A pin may as well stand on another hammer that is free; nothing else passes.
    assert all(placement.outcome[note] == Outcome.PLACED and number in {0, 1, 2} for note, number in passed)
    assert len(passed) < song.note_count // 4
