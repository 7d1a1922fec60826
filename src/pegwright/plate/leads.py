"""Leads: what of them a reader off the common line, or pins that are set early, take away at one tempo.

A channel sounds L ms after its trip, whatever the tempo; a length of the rim passes in a time that depends on it. A
reader `reader_mm` before the common line trips a channel by reader_mm / v earlier, at a rim speed v, and a pin set some
steps early by as many steps. What takes away a lead L at the speed v_set leaves L - L v_set / v at another, which is
L (1 - v_set / v): late above the tempo it was set for, early below it.

Source: uniform motion, t = s / v; a fall lasts as `units.fall_ms` has it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from pegwright.frozen import frozen
from pegwright.strikes import late_seconds
from pegwright.wheel import Channel, Wheel

_HALF = Fraction(1, 2)


@frozen()
class ChannelLead:
    """The lead of a channel, and what takes it away.

    Args:
        name: of the channel.
        lead_ms: from trip to sound.
        fall_mm: of the fall that the lead comes from; 0 where it was measured.
        now_ms: how late it sounds at the tempo with the reader and the early pins that the wheel file gives.
        reader_mm: where its reader takes the whole lead away; None where the length of the rim is not known.
        advance_steps: how early its pins are best set; 0 where the lead is no longer than half a step.
        rest_reader_mm: where its reader takes away what those leave; None as `reader_mm`.
        rows_lost: rows for whose notes the channel then has no holes.
        left_ms: how late it sounds at each other tempo when that was done.
    """

    name: str
    lead_ms: float
    fall_mm: float
    now_ms: float
    reader_mm: float | None
    advance_steps: Fraction
    rest_reader_mm: float | None
    rows_lost: tuple[str, ...]
    left_ms: tuple[float, ...]


@frozen()
class Leads:
    """The leads of a wheel at a tempo.

    Args:
        tempo, tempos: in quarter notes a minute: for which they are taken away, and others.
        step_ms: a step at the tempo.
        channels: in the order of the wheel.
        now_apart_ms: from the earliest to the latest channel at the tempo, as the wheel file is.
        left_apart_ms: the same at each other tempo, once all leads are taken away.
    """

    tempo: float
    tempos: tuple[float, ...]
    step_ms: float
    channels: tuple[ChannelLead, ...]
    now_apart_ms: float
    left_apart_ms: tuple[float, ...]


def left_ms(lead_ms: float, set_tempo: float, tempo: float) -> float:
    """How late a channel sounds whose lead was taken away at another tempo; early is below 0.

    Args:
        lead_ms: the lead.
        set_tempo: at which it was taken away.
        tempo: at which the wheel turns, in quarter notes a minute like the former.
    """
    return lead_ms * (1 - set_tempo / tempo)


def leads_of(wheel: Wheel, tempo: float, tempos: Sequence[float] = ()) -> Leads:
    """What takes away the leads of a wheel at a tempo, and what that leaves at others.

    Args:
        wheel: the wheel.
        tempo: in quarter notes a minute.
        tempos: others.
    """
    turn_ms = float(wheel.turn_quarters) * 60_000 / tempo
    step_ms = turn_ms / wheel.turn_steps
    speed = wheel.geometry.circumference_mm / turn_ms if wheel.geometry.radius_known else None
    now_ms = 1000 * late_seconds(wheel, turn_ms / 1000)
    channels = []
    for channel, late_ms in zip(wheel.channels, now_ms.tolist(), strict=True):
        steps = _early_steps(wheel, channel, channel.lead_ms / step_ms)
        rest_ms = channel.lead_ms - float(steps) * step_ms
        channels.append(
            ChannelLead(
                name=channel.name,
                lead_ms=channel.lead_ms,
                fall_mm=channel.fall_mm,
                now_ms=late_ms,
                reader_mm=None if speed is None else 0.0 - channel.lead_ms * speed,
                advance_steps=steps,
                rest_reader_mm=None if speed is None else 0.0 - rest_ms * speed,
                rows_lost=_rows_lost(wheel, channel, steps),
                left_ms=tuple(left_ms(channel.lead_ms, tempo, other) for other in tempos),
            )
        )
    apart = [max(column) - min(column) for column in zip(*(each.left_ms for each in channels), strict=True)]
    now_apart_ms = float(now_ms.max() - now_ms.min())
    return Leads(tempo, tuple(tempos), step_ms, tuple(channels), now_apart_ms, tuple(apart))


def _early_steps(wheel: Wheel, channel: Channel, lead_steps: float) -> Fraction:
    """The whole steps nearest to a lead of more than half a step, or half steps where as many rows keep their notes."""
    if lead_steps <= _HALF:
        return Fraction(0)
    whole, halves = Fraction(round(lead_steps)), round(2 * lead_steps) * _HALF
    if len(_rows_lost(wheel, channel, halves)) > len(_rows_lost(wheel, channel, whole)):
        return whole
    return halves


def _rows_lost(wheel: Wheel, channel: Channel, steps: Fraction) -> tuple[str, ...]:
    """The rows of a channel whose places have no hole of the channel that number of steps before them."""
    rows = [row for row in wheel.rows if row.name in channel.rows]
    period = math.lcm(*(row.period_steps for row in rows))
    places = {
        row.name: {phase + lap for phase in row.phases for lap in range(0, period, row.period_steps)} for row in rows
    }
    every = set().union(*places.values())
    return tuple(name for name, own in places.items() if not {(place - steps) % period for place in own} <= every)
