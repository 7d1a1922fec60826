"""Load round the turn: how many strikes fall within a time of one another, and where the maximum lies.

A window is a stretch of the turn of a given length in ms that begins with a strike. Strikes are counted in it as
limits count them: its end is not part of it, two strikes at once are two, it goes round the end of the turn, and what
counts is when pins trip, the offset of their type included, not when channels sound; pins that are set early count as
much later as they are early. A pin that holds a note on is no strike.

No window anywhere holds more strikes than one that begins with a strike, so these give the maximum. The mean is
that over all windows, wherever they begin: n strikes in a turn T are n W / T in a window W, since each is in the
windows that begin no longer than W before it.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, distinct, firsts, frozen_floats, frozen_ints, window_ends
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.score import Score, SourceRef
from pegwright.strikes import strike_times
from pegwright.units import plural, printed
from pegwright.wheel import Wheel

ALL_CHANNELS = "all channels"
MIN_STRIKES = 2  # of a place of load: a single strike is none


@frozen()
class LoadPlace:
    """Strikes within one window.

    Args:
        strikes: how many.
        plate: of the first pin, 0-based.
        step: of its hole on that plate, in steps from 0.
        trip_ms: when it trips, in ms from the beginning of the turn.
        source: the place of its note in the score, or None where that is not known.
        channels: those that are struck, without duplicates, ascending.
    """

    strikes: int
    plate: int
    step: Fraction
    trip_ms: float
    source: SourceRef | None
    channels: tuple[int, ...]


@frozen(eq=False)
class Load:
    """The load of some channels round the turn; columns of shape (s,), by time, then channel.

    Args:
        name: of the limit, or `ALL_CHANNELS`.
        channels: those concerned, as indexes into `Wheel.channels`.
        window_ms: how long a window is.
        limit: the maximum number of strikes that the wheel allows in a window, or None.
        turn_ms: how long a turn is.
        pin: which pin of the pin map strikes.
        trip_ms: when it trips, in ms from the beginning of the turn, 0 to below the turn.
        strikes: how many strikes there are in the window that begins with it.
        worst: windows with several strikes that do not overlap: each time the one with the most strikes among those
            left, the earliest of equals.
    """

    name: str
    channels: tuple[int, ...]
    window_ms: float
    limit: int | None
    turn_ms: float
    pin: Ints
    trip_ms: Floats
    strikes: Ints
    worst: tuple[LoadPlace, ...]

    @property
    def strike_count(self) -> int:
        """Strikes a turn."""
        return len(self.pin)

    @property
    def maximum(self) -> int:
        """The maximum number of strikes in any window."""
        return int(self.strikes.max(initial=0))

    @property
    def full(self) -> int:
        """The strikes that a full bar of a drawing stands for: the limit or the maximum, the larger one; at least 1."""
        return max(1, self.maximum, self.limit or 0)

    @property
    def heading(self) -> str:
        """The name at the beginning of a line; `ALL_CHANNELS` is no name of the wheel file and gets a capital there."""
        return self.name.capitalize() if self.limit is None else self.name

    @property
    def mean(self) -> float:
        """Strikes a window, on average over all windows of the turn."""
        return self.strike_count * self.window_ms / self.turn_ms

    @property
    def headroom(self) -> int | None:
        """How many more strikes the fullest window could take, or None without a limit."""
        return None if self.limit is None else self.limit - self.maximum


@frozen()
class SetLoad:
    """The loads of one set of plates.

    Args:
        letter: which of the song's pinnings it carries, such as `A`; empty where the song has one only.
        turns: the turns of the song that it plays, 0-based.
        pins: the pin map.
        loads: of all channels, then of each limit of the wheel.
    """

    letter: str
    turns: tuple[int, ...]
    pins: PinMap
    loads: tuple[Load, ...]

    @property
    def words(self) -> str:
        """Which set it is and what it plays, `Set A, turns 1, 2 and 4`; empty where the song has one only."""
        if not self.letter:
            return ""
        *others, last = [str(printed(turn)) for turn in self.turns]
        turns = f"turns {', '.join(others)} and {last}" if others else f"turn {last}"
        return f"Set {self.letter}, {turns}"


def usual_window_ms(wheel: Wheel, us_per_quarter: int) -> float:
    """The window to look at all channels with: the longest among the wheel's limits, or a step if it has none."""
    step_ms = float(wheel.step_quarters * us_per_quarter / 1000)
    return max((limit.window_ms for limit in wheel.strike_limits), default=step_ms)


def loads_of(
    pins: PinMap, wheel: Wheel, resolution: int, window_ms: float, score: Score | None = None
) -> tuple[Load, ...]:
    """The load of all channels, and of the channels of each limit in its own window.

    Args:
        pins: the pin map; its tempo is the wheel's.
        wheel: what they are set on.
        resolution: ticks per quarter of the fit: a pin trips at a whole tick, its offset being rounded as it was there.
        window_ms: for all channels, above 0, taken to the nearest microsecond.
        score: what was fitted, for bars and beats.

    Raises:
        UsageError: a window is longer than the turn.
    """
    turn, limits = _TurnTimes(pins, wheel, resolution, score), wheel.strike_limits
    return (
        turn.load(ALL_CHANNELS, tuple(range(len(wheel.channels))), window_ms, None),
        *(turn.load(limit.name, wheel.limited(limit), limit.window_ms, limit.strikes) for limit in limits),
    )


def more_words(load: Load, listed: int) -> str:
    """How many equal places are omitted when only the first `listed` worst places are listed; empty if none."""
    if len(load.worst) <= listed:
        return ""
    last = load.worst[listed - 1].strikes
    equal = sum(place.strikes == last for place in load.worst[listed:])
    return f"and {plural(equal, 'more place')} with {last:,}" if equal else ""


class _TurnTimes:
    """The pins of a turn with their places in time.

    Times are whole units of a microsecond divided by the resolution: every tick is at a whole unit at every tempo, so
    that a strike just at the end of a window is outside it on every machine.
    """

    def __init__(self, pins: PinMap, wheel: Wheel, resolution: int, score: Score | None) -> None:
        self.pins, self.wheel, self.score = pins, wheel, score
        self.units_per_us = resolution
        self.length = int(wheel.turn_quarters * resolution) * pins.us_per_quarter
        times = strike_times(pins, wheel)
        self.striking = np.sort(times.pin)  # the others hold a note on
        ticks = np.rint(times.meant_s * (1_000_000 * resolution / pins.us_per_quarter)).astype(np.int64)
        self.trip = np.zeros(pins.pin_count, dtype=np.int64)
        self.trip[times.pin] = ticks * pins.us_per_quarter % self.length

    def load(self, name: str, channels: tuple[int, ...], window_ms: float, limit: int | None) -> Load:
        """The load of some channels.

        Args:
            name: of the limit, or `ALL_CHANNELS`.
            channels: as indexes into `Wheel.channels`.
            window_ms: how long a window is.
            limit: the maximum number of strikes in a window, or None.
        """
        window = max(1, round(window_ms * 1000) * self.units_per_us)
        if window > self.length:
            raise UsageError(
                f"a window of {window_ms:g} ms is longer than a turn, which lasts {self._ms(self.length):.0f} ms "
                "at this tempo",
                where=name,
                hint="choose a shorter window or a slower tempo",
            )
        pin = self.striking[np.isin(self.pins.channel[self.striking], channels)]
        pin = pin[np.lexsort([self.pins.channel[pin], self.trip[pin]])]
        at = self.trip[pin]
        past = window_ends(at, window, self.length)
        strikes = past - np.searchsorted(at, at)
        members = (np.arange(start, past[start]) % len(at) for start in _apart(at, strikes, window, self.length))
        return Load(
            name=name,
            channels=channels,
            window_ms=window_ms,
            limit=limit,
            turn_ms=self._ms(self.length),
            pin=frozen_ints(pin),
            trip_ms=frozen_floats(at / (1000 * self.units_per_us)),
            strikes=frozen_ints(strikes),
            worst=tuple(self._place(pin[within]) for within in members),
        )

    def _ms(self, units: int) -> float:
        return units / (1000 * self.units_per_us)

    def _place(self, pin: Ints) -> LoadPlace:
        pins, first = self.pins, int(pin[0])
        note = int(pins.note[first])
        return LoadPlace(
            strikes=len(pin),
            plate=int(pins.plate[first]),
            step=self.wheel.rows[int(pins.row[first])].position_steps(int(pins.index[first])),
            trip_ms=self._ms(int(self.trip[first])),
            source=self.score.source(note) if self.score is not None and note >= 0 else None,
            channels=tuple(distinct(pins.channel[pin]).tolist()),
        )


def _apart(at: Ints, strikes: Ints, window: int, length: int) -> Iterator[int]:
    """First strikes of windows that do not overlap: each time the fullest of those left, the earliest of equals."""
    free = firsts(at) & (strikes >= MIN_STRIKES)  # the first of simultaneous strikes represents all
    for start in np.lexsort([at, -strikes]).tolist():
        if free[start]:
            yield start
            after = (at - at[start]) % length
            free &= (after >= window) & (length - after >= window)
