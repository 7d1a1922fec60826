"""Puts the stages of `pegwright stack` in order: the notes of a song or the steps of the turn, and what may be off."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pegwright.columns import Floats, Ints, firsts, frozen_floats, frozen_ints
from pegwright.config.plate_file import load_plate
from pegwright.errors import UsageError
from pegwright.facts import speed_at
from pegwright.grid import along_plate_mm
from pegwright.making import PlateFile
from pegwright.placement import Outcome
from pegwright.plate.effects import NotePlaces
from pegwright.plate.stack import Stack, stack_of
from pegwright.song import FittedTurn
from pegwright.tell.audible import LONGEST_IOI_MS, slight_limit_ms, unheard_limit_ms
from pegwright.wheel import Wheel


def load_toleranced(path: Path) -> tuple[PlateFile, Wheel]:
    """A plate file that gives tolerances, and its wheel.

    Raises:
        UsageError: a file cannot be read, or the plate file gives no tolerance.
        ConfigError: a file has faults; all of them.
    """
    plate, wheel = load_plate(path)
    if not plate.tolerances:
        hint = "add [tolerances.hole] with half_width_mm, and others (docs/seams-and-tolerances.md)"
        raise UsageError("does not say what may be off: it has no tolerances", where=str(path), hint=hint)
    return plate, wheel


def stack_notes(plate: PlateFile, wheel: Wheel, places: NotePlaces, tempo: float, seed: int) -> Stack:
    """What the tolerances of a plate file come to, the same for the same seed.

    Args:
        plate: with tolerances.
        wheel: that it names.
        places: of the notes.
        tempo: in quarter notes a minute.
        seed: of the draws.
    """
    return stack_of(plate, wheel, places, tempo, np.random.default_rng(seed))


def step_places(wheel: Wheel, tempo: float) -> NotePlaces:
    """Every step of the turn in place of notes, all on one channel, each heard against the step before it."""
    count = wheel.turn_steps
    plate, step = np.divmod(np.arange(count), wheel.steps_per_plate)
    interval_ms = np.full(count, min(speed_at(wheel, tempo).step_ms, LONGEST_IOI_MS))
    before = np.roll(np.arange(count), 1)
    return _places(plate, step * wheel.step_mm, np.zeros(count, dtype=np.int64), before, interval_ms)


def song_places(turns: Sequence[FittedTurn], wheel: Wheel, tempo: float) -> NotePlaces:
    """The notes of a song that are placed, each judged against the nearest other onset of its turn.

    Args:
        turns: of the song.
        wheel: that it was fitted to.
        tempo: in quarter notes a minute, for the time between notes.

    Raises:
        UsageError: no note was placed.
    """
    plate, along, channel, beside, interval = [], [], [], [], []
    count = 0
    for turn in turns:
        placement = turn.placement
        notes = np.flatnonzero(placement.outcome == Outcome.PLACED)
        holes = zip(placement.row[notes].tolist(), placement.index[notes].tolist(), strict=True)
        plate.append(placement.plate[notes])
        along.append(np.array([along_plate_mm(wheel, row, index) for row, index in holes]))
        channel.append(placement.channel[notes])
        nearest, apart_ms = _beside(turn, notes, tempo)
        beside.append(nearest + count)
        interval.append(apart_ms)
        count += len(notes)
    if not count:
        raise UsageError("no note of the song is placed on this wheel", hint="see `pegwright fit`")
    columns = (np.concatenate(each) for each in (plate, along, channel, beside, interval))
    return _places(*columns)


def _beside(turn: FittedTurn, notes: Ints, tempo: float) -> tuple[Ints, Floats]:
    """For each of some notes that against which it is judged, and the time between them, a second at most.

    The nearest onset of its part; where that is more than a second away, of any part; else the note itself.

    Args:
        turn: of a song.
        notes: of its score, placed.
        tempo: in quarter notes a minute.
    """
    ms_per_tick = 60_000 / tempo / turn.score.resolution
    part, onset = turn.score.part[notes], turn.score.onset_ticks[notes]
    nearest, of_part = _nearest(part, onset)
    of_any, apart = _nearest(np.zeros_like(part), onset)
    far = of_part * ms_per_tick > LONGEST_IOI_MS
    beside, apart_ms = np.where(far, of_any, nearest), np.where(far, apart, of_part) * ms_per_tick
    alone = apart_ms > LONGEST_IOI_MS
    return np.where(alone, np.arange(len(notes)), beside), np.minimum(apart_ms, LONGEST_IOI_MS)


def _nearest(part: Ints, onset: Ints) -> tuple[Ints, Floats]:
    """For each note the first note of the nearest other onset of its part, and how far away that is.

    Where there is none the note itself, at no end of a distance.
    """
    order = np.lexsort([onset, part])
    sorted_part, sorted_onset = part[order], onset[order]
    new = firsts(sorted_part, sorted_onset)
    heads = np.flatnonzero(new)
    group = np.cumsum(new) - 1
    same = sorted_part[heads][1:] == sorted_part[heads][:-1]
    gap = np.where(same, np.diff(sorted_onset[heads]), np.inf) if len(heads) > 1 else np.array([])
    before, after = np.append(np.inf, gap), np.append(gap, np.inf)
    own = np.arange(len(heads))
    other = np.where(np.isinf(np.minimum(before, after)), own, np.where(before <= after, own - 1, own + 1))
    nearest, apart = np.empty_like(order), np.empty(len(order))
    nearest[order], apart[order] = order[heads[other[group]]], np.minimum(before, after)[group]
    alone = np.isinf(apart)
    nearest[alone] = np.flatnonzero(alone)
    return frozen_ints(nearest), frozen_floats(apart)


def _places(plate: Ints, along_mm: Floats, channel: Ints, beside: Ints, interval_ms: Floats) -> NotePlaces:
    return NotePlaces(
        plate=frozen_ints(plate),
        along_mm=frozen_floats(along_mm),
        channel=frozen_ints(channel),
        beside=frozen_ints(beside),
        unheard_ms=frozen_floats(unheard_limit_ms(interval_ms)),
        slight_ms=frozen_floats(slight_limit_ms(interval_ms)),
    )


def error_svg(wheel: Wheel, stack: Stack, song: str | None) -> bytes:
    """The error round the turn as an SVG.

    Args:
        wheel: the wheel.
        stack: what its tolerances come to.
        song: the name of the song's file; None for the steps of the turn.
    """
    from pegwright.draw.error_plot import ErrorPlot, ErrorSeries, error_page  # noqa: PLC0415  # where one is asked for
    from pegwright.write.svg import svg_text  # noqa: PLC0415

    places = stack.places
    names = ("Place of a note, against where it was meant", "Judged: from note to note where notes are shifted alike")
    nothing, limits_ms = np.zeros(places.count, dtype=bool), np.unique(places.unheard_ms)
    noticed = [nothing, np.abs(stack.example_ms[1]) > places.unheard_ms]
    limit_ms = [None, float(limits_ms[0]) if len(limits_ms) == 1 else None]
    panels = [
        ErrorSeries(
            names[part],
            frozen_floats(stack.worst_ms[part]),
            frozen_floats(stack.double_ms[part]),
            frozen_floats(stack.example_ms[part]),
            noticed[part].tolist(),
            limit_ms[part],
        )
        for part in range(2)
    ]
    share = (places.plate + places.along_mm / wheel.plate_mm) / wheel.plate_count
    subject = f"{places.count:,} notes of {song}" if song else f"{places.count:,} steps"
    facts = f"{stack.tempo:g} quarter notes a minute · {subject} · {stack.turns:,} simulated turns"
    plot = ErrorPlot(wheel.name, facts, frozen_floats(share), wheel.plate_count, tuple(panels))
    return svg_text(error_page(plot)).encode()
