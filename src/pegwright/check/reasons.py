"""The reasons of the notes left out: each is true of its note, and none could simply be added."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pegwright.check.columns import Bools, Ints
from pegwright.check.subject import CheckedPins, Subject, limited, too_soon, within
from pegwright.check.wheel import early_ticks, over_the_edge, pairs_in_windows, touching_pairs
from pegwright.placement import Outcome
from pegwright.wheel import StrikeLimit

_FAR_TICKS = 2**60


class _Places(NamedTuple):
    """Pins that notes left out could have; columns of shape (m,).

    Args:
        note: place in the list of notes left out.
        channel, hole, pin_type: of the pin; a hole is a place in the hole table.
        away_ticks: from the note to where the pin trips; later is positive.
    """

    note: Ints
    channel: Ints
    hole: Ints
    pin_type: Ints
    away_ticks: Ints


def reasons(subject: Subject, pins: CheckedPins) -> Iterator[str]:
    """Every note left out has the reason that is true of it, and could not simply be added."""
    placement, outcome = subject.placement, subject.placement.outcome
    late = (placement.channel >= 0) & (subject.onset_ticks >= subject.turn_ticks)
    left_out = outcome != Outcome.PLACED
    yield from subject.each(
        left_out & (late != (outcome == Outcome.PAST_TURN)),
        "is left out and past the end of the turn, or is not and is said to be",
    )
    needs_strike = (placement.channel >= 0) & left_out & (placement.unison < 0)
    if not np.count_nonzero(needs_strike):
        return
    notes = np.flatnonzero(needs_strike & ~late)
    decides = subject.sounds.argmax(axis=0)  # the channel whose nearest hole gives the reason
    expected = np.full(len(notes), Outcome.OFF_GRID, dtype=np.int64)
    places = _within_reach(subject, notes)
    nearest = _nearest(subject, places)
    expected[places.note[nearest]] = Outcome.LOST_AT_SEAM
    decides[notes[places.note[nearest]]] = places.channel[nearest]
    over = over_the_edge(subject.wheel, subject.holes, places.hole, places.pin_type)
    exists = subject.holes.present[places.channel, places.hole] & ~over
    places = _Places(*(column[exists] for column in places))
    barred = _barred(subject, pins, places, subject.turn[notes[places.note]])
    addable = np.zeros(len(notes), dtype=bool)
    addable[places.note[barred == Outcome.PLACED]] = True
    yield from subject.each_of(notes, addable, "is left out and could simply be added")
    nearest = _nearest(subject, places)
    expected[places.note[nearest]] = barred[nearest]
    decides[notes[places.note[nearest]]] = places.channel[nearest]
    elsewhere = needs_strike & (placement.channel != decides)
    yield from subject.each(elsewhere, "is left out on another channel than its nearest hole's")
    wrong = (expected != outcome[notes]) & ~addable
    yield from subject.each_of(notes, wrong, "is left out for another reason than it says")


def _within_reach(subject: Subject, notes: Ints) -> _Places:
    """Every pin that would trip within reach of a note, in holes of the channels that sound it, lost or not."""
    position, turn, reach = subject.holes.position, subject.turn_ticks, subject.placement.reach_ticks
    round_and_round = np.concatenate([position - turn, position, position + turn])
    columns: list[Sequence[Ints]] = [(np.zeros(0, dtype=np.int64),) * 5]
    first = subject.offsets.first
    early = early_ticks(subject.wheel, turn)
    sounding = np.flatnonzero(subject.sounds[:, notes].any(axis=1))
    for pin_type in np.flatnonzero(np.bincount(first[first >= 0])).tolist():
        for ticks in np.unique(early[sounding]).tolist():
            later = subject.offsets.whole_ticks[pin_type] + ticks
            at = (subject.onset_ticks[notes] + subject.placement.start_ticks - later) % turn
            low = np.searchsorted(round_and_round, at - reach)
            past = np.searchsorted(round_and_round, at + reach, side="right")
            note, place = pairs_in_windows(low, past)
            hole, away = place % len(position), round_and_round[place] - at[note]
            for channel in sounding[early[sounding] == ticks].tolist():
                has = subject.sounds[channel, notes[note]] & subject.holes.has[channel, hole]
                count = np.count_nonzero(has)
                columns.append((note[has], np.full(count, channel), hole[has], np.full(count, pin_type), away[has]))
    return _Places(*np.concatenate(columns, axis=1))


def _nearest(subject: Subject, places: _Places) -> Ints:
    """For each note that comes up, the index of its preferred place.

    The minimum beyond the file's rounding, a plain pin, nearest, the first channel, the earlier, row and pin type.
    """
    away, bent = np.abs(places.away_ticks), places.pin_type != subject.offsets.plain
    beyond = np.maximum(away - subject.tolerance_ticks, 0)
    row = subject.holes.row[places.hole]
    keys = [places.pin_type, row, places.away_ticks, places.channel, away, bent, beyond]  # the last counts first
    order = np.lexsort([*keys, places.note])
    _, first = np.unique(places.note[order], return_index=True)
    return order[first]


def _barred(subject: Subject, pins: CheckedPins, places: _Places, turn: Ints) -> Ints:
    """What bars each place: a limit, touch, re-strike or a used hole (the last counts), or `PLACED` if nothing does.

    Args:
        subject: see there.
        pins: those there are.
        places: to be barred.
        turn: of each place.
    """
    barred = np.full(len(places.hole), Outcome.PLACED, dtype=np.int64)
    lane, offset = subject.rim.lane(turn, places.channel), subject.offsets.whole_ticks[places.pin_type]
    early = early_ticks(subject.wheel, subject.turn_ticks)[places.channel]
    at = (subject.holes.position[places.hole] + offset + early) % subject.turn_ticks
    for limit in subject.wheel.strike_limits:
        under = np.flatnonzero(limited(subject.wheel, limit, places.channel))
        full = _one_too_many(subject, pins, limit, turn[under], at[under])
        barred[under[full]] = Outcome.TOO_MANY
    collar = (subject.holes.position[places.hole] + subject.offsets.collar_ticks[places.pin_type]) % subject.turn_ticks
    stand = (pins.lane, pins.hole, pins.collar_ticks)
    near, _ = touching_pairs(subject.wheel, subject.holes, (lane, places.hole, collar), stand)
    barred[near] = Outcome.PINS_TOUCH
    apart = _to_nearest_pin(subject, pins, lane, at)
    barred[too_soon(subject.rim, places.channel, apart)] = Outcome.RESTRIKE
    count = len(subject.holes.position)
    barred[np.isin(lane * count + places.hole, pins.lane * count + pins.hole)] = Outcome.HOLE_USED
    return barred


def _to_nearest_pin(subject: Subject, pins: CheckedPins, lane: Ints, at: Ints) -> Ints:
    """Ticks from places in the turn to the nearest pin of a lane, either way round; far more than a turn if none."""
    turn = subject.turn_ticks
    key = np.sort(np.add.outer([-turn, 0, turn], pins.lane * 4 * turn + turn + pins.position_ticks), axis=None)
    sought = lane * 4 * turn + turn + at
    place = np.searchsorted(key, sought)
    padded = np.concatenate([[-_FAR_TICKS], key, [_FAR_TICKS]])
    return np.asarray(np.minimum(sought - padded[place], padded[place + 1] - sought), dtype=np.int64)


def _one_too_many(subject: Subject, pins: CheckedPins, limit: StrikeLimit, turn: Ints, at: Ints) -> Bools:
    """Whether one strike more at each place would break a limit.

    Args:
        subject: see there.
        pins: those there are, turn after turn.
        limit: on some channels.
        turn: shape (m,), of each place.
        at: shape (m,), the place in its turn.
    """
    full = np.zeros(len(at), dtype=bool)
    counted = np.flatnonzero(limited(subject.wheel, limit, pins.channel))
    order = np.argsort(turn, kind="stable")
    for number in np.flatnonzero(np.bincount(turn)).tolist():
        here = order[slice(*np.searchsorted(turn[order], [number, number + 1]))]
        own = counted[slice(*np.searchsorted(pins.turn[counted], [number, number + 1]))]
        full[here] |= _crowded_by(subject, limit, np.sort(pins.position_ticks[own]), at[here])
    return full


def _crowded_by(subject: Subject, limit: StrikeLimit, own: Ints, at: Ints) -> Bools:
    """Whether one strike more at each place in a turn would break a limit, with its strikes at other places, rising."""
    beyond = np.full(limit.strikes, _FAR_TICKS)
    laps = np.concatenate([-beyond, own - subject.turn_ticks, own, own + subject.turn_ticks, beyond])
    place = np.searchsorted(laps, at)
    full = np.zeros(len(at), dtype=bool)
    for before in range(limit.strikes + 1):
        first = laps[place - before]
        last = laps[place - before + limit.strikes - 1]
        full |= within(subject.rim, limit, np.maximum(last, at) - np.minimum(first, at))
    return full
