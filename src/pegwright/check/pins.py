"""Rules of the pins: one a hole, near their notes, in order, far enough apart, within the limits."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pegwright.check import alone
from pegwright.check.columns import Bools, Ints
from pegwright.check.subject import CheckedPins, Subject
from pegwright.placement import Status


def one_pin_a_hole(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """No hole has two pins."""
    yield from subject.each_of(pins.note, alone.sharing(subject.rim, pins), "shares its hole with another pin")


def pin_types(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Of pin types that trip at the same place the plain one, or else the first, is taken."""
    taken = subject.placement.pin_type[pins.note]
    yield from subject.each_of(
        pins.note,
        taken != subject.offsets.first[taken],
        "has a pin type although another trips at the same place and comes first",
    )


def deviations(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Hole minus note, within reach; in ms, 0 within the file's own rounding."""
    placement, onset = subject.placement, subject.onset_ticks
    half = (subject.turn_ticks - 1) // 2
    away = (pins.position_ticks - placement.start_ticks - onset[pins.note] + half) % subject.turn_ticks - half
    expected = np.zeros(subject.note_count, dtype=np.int64)
    expected[pins.note] = away
    yield from subject.each(expected != placement.deviation_ticks, "has a deviation that its hole does not have")
    yield from subject.each(np.abs(expected) > placement.reach_ticks, "is moved farther than the reach")
    yield from subject.each_of(
        pins.note, (onset >= subject.turn_ticks)[pins.note], "is placed although it is past the turn"
    )
    taken, exactly = placement.pin_type[pins.note], expected.astype(np.float64)
    exactly[pins.note] += subject.offsets.exact_ticks[taken] - subject.offsets.whole_ticks[taken]
    ms = exactly * placement.us_per_quarter / (1000 * placement.resolution)
    ms[np.abs(expected) <= subject.tolerance_ticks] = 0.0
    wrong = ~np.isclose(ms, placement.deviation_ms, rtol=1e-9, atol=1e-9)
    yield from subject.each(wrong, "has a wrong deviation in ms")


def order(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Pins of a channel are in the order of their notes; those of one onset in any order."""
    onset = subject.onset_ticks[pins.note]
    place = onset + subject.placement.deviation_ticks[pins.note]
    by_lane = np.lexsort([place, onset, pins.lane])
    place = place[by_lane]
    first, last = alone.first_and_last(pins.lane[by_lane])
    crossed = np.zeros(len(place), dtype=bool)
    crossed[1:] = np.diff(place) <= 0
    crossed[first] = False
    crossed[last] |= place[last] - place[first] >= subject.turn_ticks
    yield from subject.each_of(pins.note[by_lane], crossed, "is pinned out of the order of its channel's notes")


def restrike(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Consecutive strikes of a channel, round the turn, are far enough apart in time, once a pin has let go."""
    again, _ = alone.struck_again(subject.rim, pins)
    yield from subject.each_of(
        pins.note, _marked(pins, again), "is struck again before the channel's re-strike is over"
    )


def touching(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """No two pins touch in the plane of the rim, on one channel or on neighbouring ones."""
    one, _ = alone.touching(subject.rim, pins)
    yield from subject.each_of(pins.note, _marked(pins, one), "has a pin that touches another")


def within_plate(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """No collar reaches over an edge of its plate."""
    over = alone.over(subject.rim, pins)
    yield from subject.each_of(pins.note, over, "has a pin that reaches over an edge of its plate")


def limits(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """No limit has one strike more within its window, also round the end of the turn."""
    for limit in subject.wheel.strike_limits:
        yield from subject.each_of(
            pins.note,
            _marked(pins, alone.crowds(subject.rim, pins, limit).ravel()),
            f"is one of more than {limit.strikes} strikes within the window of limit {limit.name}",
        )


def _marked(pins: CheckedPins, numbers: Ints) -> Bools:
    """Shape (p,): which of the pins are among some numbers of them."""
    marked = np.zeros(len(pins.note), dtype=bool)
    marked[numbers] = True
    return marked


def totals(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Weight, its bound and cost of each turn are those of its pins."""
    beyond = np.abs(subject.placement.deviation_ticks[pins.note]) - subject.tolerance_ticks
    ends = np.searchsorted(pins.turn, np.arange(len(subject.turns) + 1))
    weights = np.diff(np.append(0, np.cumsum(subject.weight[pins.note]))[ends]).tolist()
    costs = np.diff(np.append(0, np.cumsum(np.maximum(beyond, 0)))[ends]).tolist()
    for (_, placement), weight, cost in zip(subject.turns, weights, costs, strict=True):
        if weight != placement.weight:
            yield f"the weight placed is {weight}, not {placement.weight}"
        if placement.weight > placement.weight_bound:
            yield f"the weight {placement.weight} exceeds its bound {placement.weight_bound}"
        elif placement.status == Status.OPTIMAL and placement.weight != placement.weight_bound:
            yield f"the weight {placement.weight} is called the best and its bound is {placement.weight_bound}"
        if cost != placement.cost_ticks:
            yield f"the cost is {cost} ticks, not {placement.cost_ticks}"
