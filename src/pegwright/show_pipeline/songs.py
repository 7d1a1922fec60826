"""The songs of a show read, cut into turns, and tried at every start."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints
from pegwright.config.one_song import SetSong
from pegwright.errors import UsageError
from pegwright.fit.best import find_best
from pegwright.fit.cut import cut_turns, length_turns
from pegwright.fit.fit_song import place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.pins import pins_of
from pegwright.pipeline import Edited, Fitted, edit_song, fit_edited
from pegwright.placement import Placement
from pegwright.request import Request
from pegwright.score import Score
from pegwright.show.swap import plate_table
from pegwright.show.time import SongTime
from pegwright.show.turns import letter, running_order
from pegwright.show.work import PinTypes
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel

MOST_STARTS = 64  # of one pinning; more are thinned out


@dataclass(frozen=True, slots=True, eq=False)
class Pinning:
    """One pinning of a song with every start it may have.

    Args:
        score: the turn of the song, or the whole of it.
        starts: in steps from 0; the song loses nothing more at any of them than at its best.
        tables: pins at each start, as `Works` takes them.
        plain: pins at the first start that was tried, shape (1, plates, holes).
    """

    score: Score
    starts: tuple[Fraction, ...]
    tables: PinTypes
    plain: PinTypes


@dataclass(frozen=True, slots=True, eq=False)
class ReadySong:
    """One song of the set, read and tried at its starts.

    Args:
        entry: what the set says of it.
        edited: the whole of it, as it is to be fitted.
        options: for the fit, with the transposition chosen.
        pinnings: the different ones.
        running: which pinning each turn has.
        time: how long it takes.
        us_per_quarter: its tempo.
        thinned_steps: starts were tried only so many steps apart; 1 for all of them.
    """

    entry: SetSong
    edited: Edited
    options: FitOptions
    pinnings: tuple[Pinning, ...]
    running: tuple[int, ...]
    time: SongTime
    us_per_quarter: int
    thinned_steps: int

    @property
    def title(self) -> str:
        """Of the score."""
        return self.edited.score.title

    def letter_of(self, pinning: int) -> int | None:
        """Number of a pinning in the running order; None if there is one only."""
        return pinning if len(self.pinnings) > 1 else None


def ready_song(entry: SetSong, wheel: Wheel, allowed: Ints) -> ReadySong:
    """Read a song, cut it into turns and try each at every start.

    Args:
        entry: what the set says of it.
        wheel: the wheel.
        allowed: which plates may change places, as `exchangeable` tells.

    Raises:
        InputError: the file cannot be read as music.
        UsageError: what the set says of it cannot be met.
    """
    request = entry.request
    if not request.start_free and request.options.start_steps >= wheel.turn_steps:
        step = fraction_text(printed(request.options.start_steps))
        hint = f"the steps of {wheel.name} are 1 to {wheel.turn_steps}"
        raise UsageError(f"step {step} is not on the turn", where=f"{entry.score.name}: start", hint=hint)
    edited = edit_song(entry.score, wheel, request)
    score = edited.score
    turns = cut_turns(score, wheel)
    options = _transposed(request, turns, wheel)
    starts, thinned = _starts(request, wheel, allowed)
    tried = [[place_song(turn, wheel, replace(options, start_steps=start)) for start in starts] for turn in turns]
    tables = [_tables(turn, wheel, placements) for turn, placements in zip(turns, tried, strict=True)]
    running = running_order([table.tobytes() for table in tables])
    firsts = [running.index(pinning) for pinning in range(max(running) + 1)]
    titled = [
        replace(turns[turn], title=f"{score.title} ({letter(pinning)})") if len(firsts) > 1 else turns[turn]
        for pinning, turn in enumerate(firsts)
    ]
    us_per_quarter = tried[0][0].us_per_quarter
    turn_s = float(wheel.turn_quarters) * us_per_quarter / 1e6
    last = min(Fraction(1), max(Fraction(0), length_turns(score, wheel) - (len(turns) - 1)))
    return ReadySong(
        entry,
        edited,
        options,
        tuple(_pinning(titled[pinning], starts, tried[turn], tables[turn]) for pinning, turn in enumerate(firsts)),
        running,
        SongTime(turn_s, float(last) * turn_s, entry.talk_s),
        us_per_quarter,
        thinned,
    )


def fit_at(song: ReadySong, pinning: Pinning, start_steps: Fraction, wheel: Wheel) -> Fitted:
    """The fit of one pinning of a song at one of its starts."""
    options = replace(song.options, start_steps=start_steps)
    request = replace(song.edited.request, options=options, search=None)
    return fit_edited(replace(song.edited, score=pinning.score, request=request), wheel)


def _transposed(request: Request, turns: Sequence[Score], wheel: Wheel) -> FitOptions:
    """The options with the transposition that puts most in, over all turns."""
    if request.search is None or not request.transpose_free:
        return request.options
    worth: dict[int, tuple[int, int]] = {}
    for turn in turns:
        for found in find_best(turn, wheel, request.options, request.search, 2 * request.search.semitones + 1).found:
            weight, cost = worth.get(found.choice.transpose_semitones, (0, 0))
            placed = found.placement
            worth[found.choice.transpose_semitones] = (weight + placed.weight, cost + placed.cost_ticks)
    best = min(worth, key=lambda semitones: (-worth[semitones][0], worth[semitones][1], abs(semitones), -semitones))
    return replace(request.options, transpose_semitones=best)


def _starts(request: Request, wheel: Wheel, allowed: Ints) -> tuple[list[Fraction], int]:
    """The starts to try, and how many steps they are apart if that is more than was asked for, else 1.

    Where all plates can change places, a start whole plates later is the same plates in other places: one is enough.
    """
    if request.search is None or not request.start_free:
        return [request.options.start_steps], 1
    period = wheel.steps_per_plate if allowed.all() else wheel.turn_steps
    every = request.search.every_steps
    different: dict[int, int] = {}
    for step in range(0, wheel.turn_steps, every):
        different.setdefault(step % period, step)
    apart = 1
    while math.ceil(len(different) / apart) > MOST_STARTS:
        apart *= 2
    return [Fraction(step) for step in different.values()][::apart], every * apart if apart > 1 else 1


def _tables(turn: Score, wheel: Wheel, placements: Sequence[Placement]) -> PinTypes:
    tables = [plate_table(pins_of(turn, wheel, placement), wheel) for placement in placements]
    return np.stack(tables).astype(np.uint8)


def _pinning(score: Score, starts: Sequence[Fraction], tried: Sequence[Placement], tables: PinTypes) -> Pinning:
    """Keep the starts at which no more is lost or moved than at the best."""
    worth = [(placement.weight, -placement.cost_ticks) for placement in tried]
    kept = [number for number, each in enumerate(worth) if each == max(worth)]
    return Pinning(score, tuple(starts[number] for number in kept), tables[kept], tables[:1])
