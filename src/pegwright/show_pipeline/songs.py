"""The songs of a show read, cut into turns, and tried at every start."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints
from pegwright.config.song_set import SetSong
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.fit.best import SearchRange, find_best
from pegwright.fit.cut import cut_turns, length_turns
from pegwright.fit.fit_song import place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.pins import pins_of
from pegwright.pipeline import Request, edit_score
from pegwright.placement import Placement
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.show.swap import plate_table
from pegwright.show.time import SongTime
from pegwright.show.turns import letter, running_order
from pegwright.show.work import PinTypes
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel

SEMITONES = 12  # either way, where the transposition is free
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
        options: for the fit, with the transposition chosen.
        title: of the score.
        findings: of reading and editing it.
        pinnings: the different ones.
        running: which pinning each turn has.
        time: how long it takes.
        us_per_quarter: its tempo.
        notes: in one pass.
        thinned_steps: starts were tried only so many steps apart; 1 for all of them.
    """

    entry: SetSong
    options: FitOptions
    title: str
    findings: tuple[Finding, ...]
    pinnings: tuple[Pinning, ...]
    running: tuple[int, ...]
    time: SongTime
    us_per_quarter: int
    notes: int
    thinned_steps: int

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
    if not entry.start_free and entry.options.start_steps >= wheel.turn_steps:
        step = fraction_text(printed(entry.options.start_steps))
        hint = f"the steps of {wheel.name} are 1 to {wheel.turn_steps}"
        raise UsageError(f"step {step} is not on the turn", where=f"{entry.score.name}: start", hint=hint)
    whole, read_findings = read_score(entry.score)
    request = Request(bars=entry.bars, offset=entry.offset, options=entry.options)
    score, edited = edit_score(whole, wheel, request)
    turns = cut_turns(score, wheel)
    options = _transposed(entry, turns, wheel)
    starts, thinned = _starts(entry, wheel, allowed)
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
        options,
        score.title,
        (*read_findings, *edited),
        tuple(_pinning(titled[pinning], starts, tried[turn], tables[turn]) for pinning, turn in enumerate(firsts)),
        running,
        SongTime(turn_s, float(last) * turn_s, entry.talk_s),
        us_per_quarter,
        score.note_count,
        thinned,
    )


def _transposed(entry: SetSong, turns: Sequence[Score], wheel: Wheel) -> FitOptions:
    """The options with the transposition that puts most in, over all turns."""
    if not entry.transpose_free:
        return entry.options
    over = SearchRange(SEMITONES, every_steps=1 if entry.start_free else 0)
    worth: dict[int, tuple[int, int]] = {}
    for turn in turns:
        for found in find_best(turn, wheel, entry.options, over, 2 * SEMITONES + 1).found:
            weight, cost = worth.get(found.choice.transpose_semitones, (0, 0))
            placed = found.placement
            worth[found.choice.transpose_semitones] = (weight + placed.weight, cost + placed.cost_ticks)
    best = min(worth, key=lambda semitones: (-worth[semitones][0], worth[semitones][1], abs(semitones), -semitones))
    return replace(entry.options, transpose_semitones=best)


def _starts(entry: SetSong, wheel: Wheel, allowed: Ints) -> tuple[list[Fraction], int]:
    """The starts to try, and how many steps they are apart.

    Where all plates can change places, a start a whole plate later is the same plates in other places.
    """
    if not entry.start_free:
        return [entry.options.start_steps], 1
    different = wheel.steps_per_plate if allowed.all() else wheel.turn_steps
    apart = 1
    while math.ceil(different / apart) > MOST_STARTS:
        apart *= 2
    return [Fraction(step) for step in range(0, different, apart)], apart


def _tables(turn: Score, wheel: Wheel, placements: Sequence[Placement]) -> PinTypes:
    tables = [plate_table(pins_of(turn, wheel, placement), wheel) for placement in placements]
    return np.stack(tables).astype(np.uint8)


def _pinning(score: Score, starts: Sequence[Fraction], tried: Sequence[Placement], tables: PinTypes) -> Pinning:
    """Keep the starts at which no more is lost or moved than at the best."""
    worth = [(placement.weight, -placement.cost_ticks) for placement in tried]
    kept = [number for number, each in enumerate(worth) if each == max(worth)]
    return Pinning(score, tuple(starts[number] for number in kept), tables[kept], tables[:1])
