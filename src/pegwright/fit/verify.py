"""An independent check of a placement: every rule worked out afresh from score, wheel and placement.

Shares no code with the solver or the hole grid, so that a slip in either cannot hide. It proves that every rule
is kept, that every reason is true and that no note left out could simply be added. That no other placement is
better is the solver's claim, which the tests hold against exhaustive search and a general solver.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.verify_wheel import (
    HoleTable,
    held_ticks,
    hole_table,
    pairs_in_windows,
    pin_offsets,
    sounding_table,
    touching_pairs,
)
from pegwright.placement import Outcome, Placement, Status
from pegwright.score import Score
from pegwright.units import printed
from pegwright.wheel import StrikeLimit, Wheel

MOST_SENTENCES = 20  # of one rule; the rest are counted
Bools = NDArray[np.bool_]


def verify(score: Score, wheel: Wheel, placement: Placement) -> tuple[str, ...]:
    """Work every rule out afresh.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: the outcome of every note.

    Returns:
        Every broken rule as a sentence; none where the placement is sound.
    """
    broken = tuple(_shape(score, wheel, placement))
    if broken:
        return broken  # the other rules cannot be worked out on columns that do not fit
    return tuple(_Check(score, wheel, placement).sentences())


def _shape(score: Score, wheel: Wheel, placement: Placement) -> Iterator[str]:
    """Counts, hashes and bounds of every column."""
    columns = ("outcome", "channel", "plate", "row", "index", "pin_type", "deviation_ticks", "deviation_ms", "unison")
    for name in columns:
        if len(getattr(placement, name)) != score.note_count:
            yield f"column {name} has {len(getattr(placement, name))} items for {score.note_count} notes"
            return
    if (placement.score_sha256, placement.wheel_sha256) != (score.sha256, wheel.sha256):
        yield "the placement was made of another score or another wheel"
    steps = [wheel.step_quarters, *(phase * wheel.step_quarters for row in wheel.rows for phase in row.phases)]
    whole = all((quarters * placement.resolution).denominator == 1 for quarters in steps)
    if placement.resolution % score.resolution or not whole:
        yield f"resolution {placement.resolution} does not make score and wheel whole"
        return
    turn = int(wheel.turn_quarters * placement.resolution)
    if not 0 <= placement.start_ticks < turn:
        yield f"start {placement.start_ticks} is outside the turn of {turn} ticks"
    if not 0 <= 2 * placement.reach_ticks < turn:
        yield f"reach {placement.reach_ticks} is not below half a turn of {turn} ticks"
    most = {
        "outcome": len(Outcome),
        "channel": len(wheel.channels),
        "plate": wheel.plate_count,
        "row": len(wheel.rows),
        "pin_type": len(wheel.pin_types),
        "unison": score.note_count,
    }
    for name, bound in most.items():
        column = getattr(placement, name)
        least = 0 if name == "outcome" else -1
        yield from _each(score, (column < least) | (column >= bound), f"has a {name} that does not exist")
    placed = placement.outcome == Outcome.PLACED
    for name in ("plate", "row", "index", "pin_type"):
        column = getattr(placement, name)
        yield from _each(score, placed & (column < 0), f"is placed without a {name}")
        yield from _each(score, ~placed & (column != -1), f"is left out and has a {name}")
    yield from _each(score, placed & (placement.channel < 0), "is placed without a channel")


class _Check:
    """One check of one placement; methods yield a sentence for each broken rule."""

    def __init__(self, score: Score, wheel: Wheel, placement: Placement) -> None:
        self.score, self.wheel, self.placement = score, wheel, placement
        self.turn = int(wheel.turn_quarters * placement.resolution)
        self.scale = placement.resolution // score.resolution
        self.onset = score.onset_ticks * self.scale
        self.placed = np.flatnonzero(placement.outcome == Outcome.PLACED)
        self.restrike_us = np.array([round(channel.restrike_ms * 1000) for channel in wheel.channels], dtype=np.int64)
        self.holes: HoleTable = hole_table(wheel, placement.resolution)
        priority = dict(placement.part_priorities)
        by_part = np.array([priority.get(part.name, 1) for part in score.parts], dtype=np.int64)
        self.weight = 128 * by_part[score.part] + score.velocity
        self.held = held_ticks(wheel, self.turn)
        self.sounds, self.kind = self._sounding()
        self.exact_offset, self.plain, self.first_of_offset = pin_offsets(wheel, self.turn)
        self.offset = np.rint(self.exact_offset).astype(np.int64)

    def sentences(self) -> Iterator[str]:
        """Every broken rule."""
        yield from self._channels()
        yield from self._unisons()
        missing = list(self._existence())
        yield from missing
        if missing:
            return  # without a place for every pin the rest means nothing
        self.hole = self.holes.number(*(column[self.placed] for column in self._hole_columns()))
        offset = self.offset[self.placement.pin_type[self.placed]]
        self.position = (self.holes.position[self.hole] + offset) % self.turn
        rules: tuple[Callable[[], Iterable[str]], ...] = (
            self._one_pin_a_hole,
            self._pin_types,
            self._deviations,
            self._order,
            self._restrike,
            self._touch,
            self._limits,
            self._totals,
            self._reasons,
        )
        for rule in rules:
            yield from rule()

    def _sounding(self) -> tuple[Bools, Ints]:
        """Which channel may sound which note, shape (channels, n), and a number for each note, equal for equal ones."""
        score, patterns = self.score, dict(self.placement.part_channels)
        by_part = [patterns.get(part.name, "*") for part in score.parts]
        listed = sorted(set(by_part))
        tables = [table for pattern in listed for table in sounding_table(self.wheel, self.placement, pattern)]
        all_of = np.concatenate(tables, axis=1) if tables else np.zeros((len(self.wheel.channels), 0), dtype=bool)
        table = np.array([listed.index(pattern) for pattern in by_part], dtype=np.int64)[score.part]
        which = (2 * table + score.percussion_notes()) * 128 + score.pitch_midi
        _, kind = np.unique(all_of, axis=1, return_inverse=True)
        return all_of[:, which], kind.reshape(-1)[which]

    def _hole_columns(self) -> tuple[Ints, Ints, Ints]:
        return self.placement.plate, self.placement.row, self.placement.index

    def _each(self, broken: Bools, what: str) -> Iterator[str]:
        return _each(self.score, broken, what)

    def _spread(self, notes: Ints, broken: Bools) -> Bools:
        """A truth for every note of the score from one for some of its notes."""
        whole = np.zeros(self.score.note_count, dtype=bool)
        whole[notes] = broken
        return whole

    def _channels(self) -> Iterator[str]:
        """A note has a channel that sounds it, or no channel does."""
        placement, score, sounds = self.placement, self.score, self.sounds
        some = placement.channel >= 0
        notes = np.arange(score.note_count)
        yield from self._each(some & ~sounds[placement.channel, notes], "has a channel that does not sound it")
        yield from self._each(~some & sounds.any(axis=0), "has no channel although one sounds it")
        yield from self._each(some == (placement.outcome == Outcome.NO_CHANNEL), "has no channel for another reason")

    def _unisons(self) -> Iterator[str]:
        """Notes of one onset and the same channels are one strike, for which the heaviest, then the first, stands."""
        placement = self.placement
        heads, note = placement.unison, np.arange(self.score.note_count)
        asks = (placement.channel >= 0) & (self.onset < self.turn)
        shared = heads >= 0
        yield from self._each(shared & ~asks, "shares a strike without asking for one")
        same = (self.kind[heads] == self.kind) & (self.onset[heads] == self.onset)
        same &= placement.channel[heads] == placement.channel
        yield from self._each(shared & ~same, "shares a strike with a note of other channels or another onset")
        yield from self._each(shared & (heads[heads] >= 0), "shares a strike with a note that shares one itself")
        lighter = (self.weight[heads] > self.weight) | ((self.weight[heads] == self.weight) & (heads < note))
        yield from self._each(shared & ~lighter, "shares a strike with a note that should give way to it")
        expected = np.where(placement.outcome[heads] == Outcome.PLACED, Outcome.HOLE_USED, placement.outcome[heads])
        yield from self._each(shared & (placement.outcome != expected), "shares a strike and has another outcome")
        alone = np.flatnonzero(asks & ~shared)
        order = alone[np.lexsort([alone, self.onset[alone], self.kind[alone]])]
        twice = np.append(False, (np.diff(self.kind[order]) == 0) & (np.diff(self.onset[order]) == 0))
        yield from self._each(
            self._spread(order, twice[: len(order)]), "is the same strike as another and does not say so"
        )

    def _existence(self) -> Iterator[str]:
        """Every pin is in a hole that its channel has and that is not lost."""
        plate, row, index = (column[self.placed] for column in self._hole_columns())
        inside = index < self.holes.row_holes[row]
        yield from self._each(self._spread(self.placed, ~inside), "is in a hole that the row does not have")
        number = self.holes.number(plate, row, np.where(inside, index, 0))
        channel = self.placement.channel[self.placed]
        has, exists = self.holes.has[channel, number], self.holes.exists[channel, number]
        yield from self._each(self._spread(self.placed, ~has), "is in a row that the channel does not have")
        yield from self._each(self._spread(self.placed, has & ~exists), "is in a lost hole")

    def _one_pin_a_hole(self) -> Iterator[str]:
        key = self.placement.channel[self.placed] * len(self.holes.position) + self.hole
        _, which, count = np.unique(key, return_inverse=True, return_counts=True)
        yield from self._each(
            self._spread(self.placed, count[which.reshape(-1)] > 1), "shares its hole with another pin"
        )

    def _pin_types(self) -> Iterator[str]:
        """Of pin types that trip at the same place the plain one, or else the first, is taken."""
        taken = self.placement.pin_type[self.placed]
        other = taken != self.first_of_offset[taken]
        yield from self._each(
            self._spread(self.placed, other), "has a pin type although another trips at the same place and comes first"
        )

    def _deviations(self) -> Iterator[str]:
        """Hole minus note, within reach; in ms, 0 within the file's own rounding."""
        placement = self.placement
        half = (self.turn - 1) // 2
        away = (self.position - placement.start_ticks - self.onset[self.placed] + half) % self.turn - half
        expected = np.zeros(self.score.note_count, dtype=np.int64)
        expected[self.placed] = away
        yield from self._each(expected != placement.deviation_ticks, "has a deviation that its hole does not have")
        yield from self._each(np.abs(expected) > placement.reach_ticks, "is moved farther than the reach")
        late = self.onset >= self.turn
        yield from self._each(self._spread(self.placed, late[self.placed]), "is placed although it is past the turn")
        taken, exactly = placement.pin_type[self.placed], expected.astype(np.float64)
        exactly[self.placed] += self.exact_offset[taken] - self.offset[taken]
        ms = exactly * placement.us_per_quarter / (1000 * placement.resolution)
        ms[np.abs(expected) <= self.score.tolerance_ticks * self.scale] = 0.0
        yield from self._each(
            ~np.isclose(ms, placement.deviation_ms, rtol=1e-9, atol=1e-9), "has a wrong deviation in ms"
        )

    def _order(self) -> Iterator[str]:
        """Pins of a channel come in the order of their notes; those of one onset in any order."""
        channel = self.placement.channel[self.placed]
        place = self.onset[self.placed] + self.placement.deviation_ticks[self.placed]
        order = np.lexsort([place, self.onset[self.placed], channel])
        notes, channel = self.placed[order], channel[order]
        place = self.onset[notes] + self.placement.deviation_ticks[notes]
        crossed = np.append(False, (np.diff(channel) == 0) & (np.diff(place) <= 0))[: len(notes)]
        heads = np.flatnonzero(np.append(True, np.diff(channel) != 0)[: len(notes)])
        last = np.append(heads[1:], len(notes)) - 1 if len(heads) else heads
        crossed[last] |= place[last] - place[heads] >= self.turn
        yield from self._each(self._spread(notes, crossed), "is pinned out of the order of its channel's notes")

    def _restrike(self) -> Iterator[str]:
        """Consecutive strikes of a channel, round the turn, are far enough apart in time, once a pin has let go."""
        channel = self.placement.channel[self.placed]
        order = np.lexsort([self.position, channel])
        notes, channel, position = self.placed[order], channel[order], self.position[order]
        following = np.arange(1, len(notes) + 1)
        heads = np.flatnonzero(np.append(True, np.diff(channel) != 0)[: len(notes)])
        last = np.append(heads[1:], len(notes)) - 1 if len(heads) else heads
        following[last] = heads
        apart = position[following] - position
        apart[last] += self.turn
        soon = self._too_soon(channel, apart)
        yield from self._each(self._spread(notes, soon), "is struck again before the channel's re-strike is over")

    def _too_soon(self, channel: Ints, apart: Ints) -> Bools:
        needed = self.restrike_us[channel] * self.placement.resolution
        free = apart - self.held[channel]
        return np.asarray((apart == 0) | (free * self.placement.us_per_quarter < needed), dtype=bool)

    def _touch(self) -> Iterator[str]:
        """No two pins touch in the plane of the rim, on one channel or on neighbouring ones."""
        channel = self.placement.channel[self.placed]
        pins = (channel, self.hole, self.position)
        one, other = touching_pairs(self.wheel, self.holes, pins, pins)
        touched = np.zeros(len(self.placed), dtype=bool)
        touched[one[one != other]] = True
        yield from self._each(self._spread(self.placed, touched), "has a pin that touches another")

    def _limits(self) -> Iterator[str]:
        """No limit has one strike more within its window, also round the end of the turn."""
        channel = self.placement.channel[self.placed]
        for limit in self.wheel.strike_limits:
            own = np.flatnonzero(self._limited(limit, channel))
            own = own[np.argsort(self.position[own], kind="stable")]
            crowded = np.zeros(len(own), dtype=bool)
            if len(own) > limit.strikes:
                apart = np.roll(self.position[own], -limit.strikes) - self.position[own]
                apart[len(own) - limit.strikes :] += self.turn
                for start in np.flatnonzero(self._within(limit, apart)).tolist():
                    crowded[np.arange(start, start + limit.strikes + 1) % len(own)] = True
            what = f"is one of more than {limit.strikes} strikes within the window of limit {limit.name}"
            yield from self._each(self._spread(self.placed[own], crowded), what)

    def _limited(self, limit: StrikeLimit, channel: Ints) -> Bools:
        """Whether a limit is on each channel."""
        return np.array([on.name in limit.channels for on in self.wheel.channels], dtype=bool)[channel]

    def _within(self, limit: StrikeLimit, apart: Ints) -> Bools:
        """Whether strikes so many ticks apart stand in one window of a limit, whose end is not counted."""
        window = round(limit.window_ms * 1000) * self.placement.resolution
        return np.asarray((apart == 0) | (apart * self.placement.us_per_quarter < window), dtype=bool)

    def _totals(self) -> Iterator[str]:
        placement = self.placement
        weight = int(self.weight[self.placed].sum())
        if weight != placement.weight:
            yield f"the weight placed is {weight}, not {placement.weight}"
        if placement.weight > placement.weight_bound:
            yield f"the weight {placement.weight} is above its bound {placement.weight_bound}"
        if placement.status == Status.OPTIMAL and placement.weight != placement.weight_bound:
            yield f"the weight {placement.weight} is called the best and its bound is {placement.weight_bound}"
        tolerance = self.score.tolerance_ticks * self.scale
        cost = int(np.maximum(np.abs(placement.deviation_ticks[self.placed]) - tolerance, 0).sum())
        if cost != placement.cost_ticks:
            yield f"the cost is {cost} ticks, not {placement.cost_ticks}"

    def _reasons(self) -> Iterator[str]:
        """Every note left out has the reason that is true of it, and could not simply be added."""
        placement = self.placement
        outcome = placement.outcome
        late = (placement.channel >= 0) & (self.onset >= self.turn)
        yield from self._each(
            late != (outcome == Outcome.PAST_TURN), "is past the end of the turn, or is not and is said to be"
        )
        asks = (placement.channel >= 0) & ~late & (placement.unison < 0) & (outcome != Outcome.PLACED)
        notes = np.flatnonzero(asks)
        decides = self.sounds.argmax(axis=0)  # the channel whose nearest hole gives the reason
        note, channel, hole, kind, away = self._pins_within_reach(notes)
        expected = np.full(len(notes), Outcome.OFF_GRID, dtype=np.int64)
        nearest = self._nearest(note, channel, hole, kind, away)
        expected[note[nearest]] = Outcome.LOST_AT_SEAM
        decides[notes[note[nearest]]] = channel[nearest]
        exists = self.holes.exists[channel, hole]
        note, channel, hole, kind, away = (column[exists] for column in (note, channel, hole, kind, away))
        barred = self._barred(channel, hole, kind)
        addable = np.zeros(len(notes), dtype=bool)
        addable[note[barred == Outcome.PLACED]] = True
        yield from self._each(self._spread(notes, addable), "is left out and could simply be added")
        nearest = self._nearest(note, channel, hole, kind, away)
        expected[note[nearest]] = barred[nearest]
        decides[notes[note[nearest]]] = channel[nearest]
        of_no_hole = (placement.channel >= 0) & (outcome != Outcome.PLACED) & (placement.unison < 0)
        yield from self._each(
            of_no_hole & (placement.channel != decides), "is left out on another channel than its nearest hole's"
        )
        wrong = (expected != outcome[notes]) & ~addable
        yield from self._each(self._spread(notes, wrong), "is left out for another reason than it says")

    def _pins_within_reach(self, notes: Ints) -> tuple[Ints, Ints, Ints, Ints, Ints]:
        """Places in `notes`, channels that sound them, holes and pin types that trip within reach, signed distances."""
        position = self.holes.position
        round_and_round = np.concatenate([position - self.turn, position, position + self.turn])
        nothing = np.zeros(0, dtype=np.int64)
        found = [(nothing,) * 5]
        for kind in np.unique(self.first_of_offset[self.first_of_offset >= 0]).tolist():
            at = (self.onset[notes] + self.placement.start_ticks - self.offset[kind]) % self.turn
            low = np.searchsorted(round_and_round, at - self.placement.reach_ticks)
            past = np.searchsorted(round_and_round, at + self.placement.reach_ticks, side="right")
            note, place = pairs_in_windows(low, past)
            hole, away = place % len(position), round_and_round[place] - at[note]
            for on in np.flatnonzero(self.sounds[:, notes].any(axis=1)).tolist():
                has = self.sounds[on, notes[note]] & self.holes.has[on, hole]
                same = np.ones(np.count_nonzero(has), dtype=np.int64)
                found.append((note[has], on * same, hole[has], kind * same, away[has]))
        note, channel, hole, kinds, away = (np.concatenate(column) for column in zip(*found, strict=True))
        return note, channel, hole, kinds, away

    def _nearest(self, note: Ints, channel: Ints, hole: Ints, kind: Ints, away: Ints) -> Ints:
        """For each note that comes up, where the hole stands that it would rather have.

        Least beyond the file's rounding, a plain pin, nearest, the first channel, the earlier, row and pin type.
        """
        beyond = np.maximum(np.abs(away) - self.score.tolerance_ticks * self.scale, 0)
        keys = [kind, kind != self.plain, self.holes.row[hole], away, channel, np.abs(away), kind != self.plain, beyond]
        order = np.lexsort([*keys, note])
        _, first = np.unique(note[order], return_index=True)
        return order[first]

    def _barred(self, channel: Ints, hole: Ints, kind: Ints) -> Ints:
        """What bars each hole with a pin of a type: used, re-strike, touch, a limit, or `PLACED` where nothing does."""
        barred = np.full(len(hole), Outcome.PLACED, dtype=np.int64)
        pin_channel = self.placement.channel[self.placed]
        asked_at = (self.holes.position[hole] + self.offset[kind]) % self.turn
        for limit in self.wheel.strike_limits:
            asked_of = np.flatnonzero(self._limited(limit, channel))
            full = self._one_too_many(limit, asked_at[asked_of])
            barred[asked_of[full]] = Outcome.TOO_MANY
        pins = (pin_channel, self.hole, self.position)
        near, _ = touching_pairs(self.wheel, self.holes, (channel, hole, asked_at), pins)
        barred[near] = Outcome.PINS_TOUCH
        laps = np.repeat([-self.turn, 0, self.turn], len(self.placed))
        position, on = np.tile(self.position, 3) + laps, np.tile(pin_channel, 3)
        key = np.sort(on * 4 * self.turn + self.turn + position)
        asked = channel * 4 * self.turn + self.turn + asked_at
        at = np.searchsorted(key, asked, side="right")
        padded = np.concatenate([[-(2**60)], key, [2**60]])
        apart = np.minimum(asked - padded[at], padded[at + 1] - asked)
        alone = apart > self.turn  # the channel has no pin at all
        barred[self._too_soon(channel, apart) & ~alone] = Outcome.RESTRIKE
        used = np.isin(channel * len(self.holes.position) + hole, pin_channel * len(self.holes.position) + self.hole)
        barred[used] = Outcome.HOLE_USED
        return barred

    def _one_too_many(self, limit: StrikeLimit, position: Ints) -> Bools:
        """Whether one strike more at each position would break a limit."""
        own = np.sort(self.position[self._limited(limit, self.placement.channel[self.placed])])
        beyond = np.full(limit.strikes, 2**60)
        laps = np.concatenate([-beyond, own - self.turn, own, own + self.turn, beyond])
        at = np.searchsorted(laps, position)
        full = np.zeros(len(position), dtype=bool)
        for before in range(limit.strikes + 1):
            first = laps[at - before]
            last = laps[at - before + limit.strikes - 1]
            full |= self._within(limit, np.maximum(last, position) - np.minimum(first, position))
        return full


def _each(score: Score, broken: Bools, what: str) -> Iterator[str]:
    """A sentence for each note of which `broken` is true."""
    notes = np.flatnonzero(broken)
    for note in notes[:MOST_SENTENCES].tolist():
        yield f"note {printed(note)} at {score.source(note)} {what}"
    if len(notes) > MOST_SENTENCES:
        yield f"{len(notes) - MOST_SENTENCES} more: {what}"
