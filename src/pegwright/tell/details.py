"""The sentence for each note that is left out or moved, with its numbers."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from pegwright.fit.fitting import Fitting
from pegwright.fit.quantise import Holes
from pegwright.fit.reasons import Obstacle, obstacle
from pegwright.grid import Loss
from pegwright.placement import Outcome
from pegwright.units import fraction_text, length_text, plural, printed
from pegwright.wheel import place_name, sets_words

SentenceFunction: TypeAlias = Callable[[Fitting, int, int], str]  # of a fitting, a note and its strike


def note_name(fitting: Fitting, note: int) -> str:
    """A note by its pitch, or by its percussion key."""
    score, sounding = fitting.score, int(fitting.arrangement.sounding[note])
    if score.parts[int(score.part[note])].percussion:
        return f"percussion key {sounding}"
    semitones = sounding - int(score.pitch_midi[note])
    name = score.pitch_name(note)
    return f"{name} sounding {score.pitch_name(note, semitones)}" if semitones else name


def hole_name(fitting: Fitting, holes: Holes, hole: int) -> str:
    """A hole by plate, step and row, as on sheets and calls, and its pin unless that is the plain one.

    Args:
        fitting: of the song.
        holes: the list that the hole is in.
        hole: index into `holes`.
    """
    line, place = fitting.grid.lines[int(holes.channel[hole])], int(holes.place[hole])
    row = fitting.wheel.rows[int(holes.row[hole])]
    name = place_name(int(line.plate[place]), row, int(line.index[place]))
    if not holes.pin[hole]:
        return name
    return f"{name} with a pin of type {fitting.wheel.pin_types[fitting.turn.pin_types[holes.pin[hole]]].name}"


def _sentence_no_channel(fitting: Fitting, note: int, strike: int) -> str:  # noqa: ARG001  # the signature of `SentenceFunction`
    """No channel lists the pitch."""
    part = fitting.score.parts[int(fitting.score.part[note])].name
    pattern = dict(fitting.options.part_channels).get(part)
    where = "on this wheel" if pattern is None else f"with a name like {pattern!r}"
    return f"{note_name(fitting, note)} has no channel {where}"


def _sentence_past_turn(fitting: Fitting, note: int, strike: int) -> str:  # noqa: ARG001  # the signature of `SentenceFunction`
    """The note begins after the turn has ended."""
    quarters = int(fitting.turn.onset_ticks[note]) / fitting.turn.resolution
    turn = fraction_text(fitting.wheel.turn_quarters)
    return f"{note_name(fitting, note)} begins {quarters:g} quarter notes into the song, a turn is {turn}"


def _sentence_off_grid(fitting: Fitting, note: int, strike: int) -> str:
    """No hole is within reach, lost or not."""
    turn = fitting.turn
    chosen_quarters = fitting.options.reach_quarters
    reach_quarters = fitting.wheel.reach_quarters if chosen_quarters is None else chosen_quarters
    reach_ms = turn.ms(max(float(reach_quarters * turn.resolution), turn.tolerance_ticks))
    message = f"{note_name(fitting, note)} has no hole of channel {_channel(fitting, strike)} within {reach_ms:.1f} ms"
    nearest = nearest_of_channel(fitting, strike)
    if nearest is None:
        return message
    hole, ticks = nearest
    return f"{message}; the nearest is {hole_name(fitting, fitting.usable, hole)}, {away_text(fitting, ticks)}"


def nearest_of_channel(fitting: Fitting, strike: int) -> tuple[int, int] | None:
    """The nearest hole of a strike's channel, near or far, and how many ticks later it is; None where it has none."""
    turn, usable = fitting.turn, fitting.usable
    own = np.flatnonzero(usable.channel == fitting.channel[strike])
    if not len(own):
        return None
    off = usable.position[own] - fitting.strikes.onset[strike]
    off = (off + turn.turn_ticks // 2) % turn.turn_ticks - turn.turn_ticks // 2
    nearest = int(np.argmin(np.abs(off)))
    return int(own[nearest]), int(off[nearest])


def _sentence_lost(fitting: Fitting, note: int, strike: int) -> str:
    """Only lost holes are within reach."""
    hole = int(fitting.nearest_of_every[strike])
    return f"{note_name(fitting, note)} needs {_lost(fitting, hole)}"


def _sentence_barred(fitting: Fitting, note: int, strike: int) -> str:
    """The nearest hole is used, too near another pin in time or in place, or one strike too many."""
    hole = int(fitting.nearest_usable[strike])
    return f"{note_name(fitting, note)} needs {_barred(fitting, hole, obstacle(fitting, strike, hole))}"


def sentence_unison(fitting: Fitting, note: int, strike: int) -> str:
    """The note is the same strike as another, which has a pin.

    Args:
        fitting: of the song.
        note: number of the note.
        strike: the strike that it shares.
    """
    other = fitting.score.source(int(fitting.strikes.note[strike]))
    return f"{note_name(fitting, note)} is one strike of channel {_channel(fitting, strike)} with {other.in_words}"


def moved_message(fitting: Fitting, note: int, strike: int, how_audible: str) -> str:
    """The note was moved to another hole than the nearest, or to the nearest where there is none at its place.

    Args:
        fitting: of the song.
        note: number of the note.
        strike: its strike.
        how_audible: the word for it.
    """
    usable, every = fitting.usable, fitting.every
    hole, onset = int(fitting.chosen[strike]), int(fitting.strikes.onset[strike])
    off = int(usable.position[hole]) - onset
    moved = (
        f"{note_name(fitting, note)} moved {away_text(fitting, off)} ({how_audible}) "
        f"to {hole_name(fitting, usable, hole)} of channel {_channel(fitting, strike)}"
    )
    own = int(fitting.nearest_of_every[strike])
    if abs(int(every.position[own]) - onset) == abs(off):
        return f"{moved}: no hole is nearer"
    if _is_lost(fitting, own):
        return f"{moved}: the nearest is {_lost(fitting, own)}"
    nearest = int(fitting.nearest_usable[strike])
    return f"{moved}: the nearest is {_barred(fitting, nearest, obstacle(fitting, strike, nearest))}"


SENTENCES: dict[Outcome, SentenceFunction] = {
    Outcome.NO_CHANNEL: _sentence_no_channel,
    Outcome.PAST_TURN: _sentence_past_turn,
    Outcome.OFF_GRID: _sentence_off_grid,
    Outcome.LOST_AT_SEAM: _sentence_lost,
    Outcome.HOLE_USED: _sentence_barred,
    Outcome.RESTRIKE: _sentence_barred,
    Outcome.PINS_TOUCH: _sentence_barred,
    Outcome.TOO_MANY: _sentence_barred,
}


def _channel(fitting: Fitting, strike: int) -> str:
    return fitting.wheel.channels[int(fitting.channel[strike])].name


def away_text(fitting: Fitting, ticks: int) -> str:
    """How far away a hole is: `62.5 ms later`."""
    return f"{fitting.turn.ms(abs(ticks)):.1f} ms {'later' if ticks > 0 else 'earlier'}"


def _is_lost(fitting: Fitting, hole: int) -> bool:
    """Whether a hole of `Fitting.every` is lost to its pin."""
    every = fitting.every
    line, place = fitting.grid.lines[int(every.channel[hole])], int(every.place[hole])
    overhanging = (int(every.pin[hole]), int(every.row[hole]), int(line.index[place])) in fitting.turn.overhanging
    return overhanging or line.loss[place] != Loss.NONE


def _lost(fitting: Fitting, hole: int) -> str:
    """A lost hole and what took it."""
    every = fitting.every
    line, place = fitting.grid.lines[int(every.channel[hole])], int(every.place[hole])
    loss, plate, count = int(line.loss[place]), int(line.plate[place]), fitting.wheel.plate_count
    name = hole_name(fitting, every, hole)
    if loss == Loss.DECLARED:
        sets = fitting.wheel.sets_without(int(every.channel[hole]), int(every.row[hole]), int(line.index[place]), plate)
        return f"{name}, which the wheel file counts as lost{sets_words(sets)}"
    if loss == Loss.NONE:
        return f"{name}, where the pin's collar would reach over the plate's edge"
    before = plate - 1 if loss == Loss.LEAD_EDGE else plate
    plates = f"{printed(before % count)} and {printed((before + 1) % count)}"
    return f"{name}, lost at the seam between plates {plates}"


def _barred(fitting: Fitting, hole: int, barred_by: Obstacle) -> str:
    """A hole that exists and the pin that keeps a note out of it."""
    other = int(fitting.strikes.note[barred_by.strike])
    source, name = fitting.score.source(other).in_words, hole_name(fitting, fitting.usable, hole)
    if barred_by.kind == Outcome.HOLE_USED:
        return f"{name}, taken by {source}"
    channel = fitting.wheel.channels[int(fitting.usable.channel[hole])]
    if barred_by.kind == Outcome.RESTRIKE:
        apart_ms = fitting.turn.ms(abs(barred_by.ticks))
        side = "after" if barred_by.ticks >= 0 else "before"
        held_ms = fitting.turn.ms(int(fitting.turn.held_ticks[fitting.usable.channel[hole]]))
        needed_ms = channel.restrike_ms + held_ms
        held = f" and is held for {held_ms:.1f} ms by a pin" if held_ms else ""
        return (
            f"{name}, {apart_ms:.1f} ms {side} {source}; channel {channel.name} needs {channel.restrike_ms:g} ms "
            f"between strikes{held}, {needed_ms - apart_ms:.1f} ms more"
        )
    if barred_by.kind == Outcome.TOO_MANY:
        limit = fitting.wheel.strike_limits[barred_by.limit]
        span_ms = fitting.turn.ms(barred_by.ticks)
        when = f"within {span_ms:.1f} ms" if barred_by.ticks else "at once"
        strikes = f"{plural(limit.strikes + 1, 'strike')} {when} with {source}"
        return f"{name}, which makes {strikes}; limit {limit.name} allows {limit.strikes} in {limit.window_ms:g} ms"
    geometry, rows, unit = fitting.wheel.geometry, fitting.wheel.rows, fitting.wheel.unit
    usable, chosen, late = fitting.usable, int(fitting.chosen[barred_by.strike]), fitting.turn.collar_ticks
    collars_ticks = abs(barred_by.ticks - int(late[usable.pin[hole]] - late[usable.pin[chosen]]))
    along_mm = collars_ticks * geometry.circumference_mm / fitting.turn.turn_ticks
    other_row = rows[int(usable.row[chosen])]
    apart_mm = math.hypot(along_mm, other_row.lateral_mm - rows[int(usable.row[hole])].lateral_mm)
    pin = f"the pin of {source} on channel {channel.name}"
    return (
        f"{name}, {length_text(apart_mm, unit, 2)} from {pin}, where {length_text(geometry.apart_mm, unit)} is needed"
    )
