"""What a song's wheel has to do with it beside its holes: lengths that are not known, speeds, sets of plates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pegwright.facts import count_holes, length_keys, tempo_tenths
from pegwright.findings import Finding, Severity
from pegwright.units import listed, plural, quarters_per_minute, seconds_text
from pegwright.wheel import Geometry, Wheel

UNCHECKED_CODE = "lengths-not-known"
TURN_CODES = ("turn-too-fast", "turn-too-slow")
SETS_CODE = "sets-short"
SET_HOLES_CODE = "set-holes"
HEADED = (UNCHECKED_CODE, *TURN_CODES, SETS_CODE, SET_HOLES_CODE)  # what a report says in its first lines


def wheel_findings(wheel: Wheel, us_per_quarter: int, where: str) -> Iterator[Finding]:
    """What was not checked for want of lengths, and whether a turn takes longer or shorter than the wheel can.

    Args:
        wheel: of the song.
        us_per_quarter: the tempo.
        where: the song.
    """
    yield from unchecked(wheel)
    yield from set_holes(wheel)
    yield from turn_finding(wheel, us_per_quarter, where)


def set_holes(wheel: Wheel) -> Iterator[Finding]:
    """That holes which one set of plates lacks are used on none, where no set was chosen."""
    if wheel.plate_set is None and wheel.sets_differ:
        for_all = replace(wheel, lost=tuple(lost for lost in wheel.lost if lost.plate_set is None))
        count = count_holes(wheel).lost_count - count_holes(for_all).lost_count
        message = f"{plural(count, 'hole')} of a set of plates {'is' if count == 1 else 'are'} lost on some sets alone"
        hint = "--plate-set N uses all holes of set N, for pins that stay on it"
        yield Finding(
            SET_HOLES_CODE, Severity.NOTE, wheel.name, f"{message}, and used on none, so that pins fit every set", hint
        )


def unchecked(wheel: Wheel) -> Iterator[Finding]:
    """What is not checked on a wheel whose file does not give all lengths."""
    lacking = wheel.geometry.unchecked
    if lacking:
        message = f"{listed(_not_checked(wheel.geometry))} {'was' if _one(wheel.geometry) else 'were'} not checked"
        missing = f"[geometry] in the wheel file does not give {listed(length_keys(wheel, lacking))}"
        yield Finding(UNCHECKED_CODE, Severity.NOTE, wheel.name, f"{message}: {missing}", "pin sheets need all of them")


def _not_checked(geometry: Geometry) -> list[str]:
    words = [] if geometry.pins_known else ["the distance of pins"]
    words += [] if geometry.edges_known or not geometry.seams else ["which holes the seams take"]
    return words + ([] if geometry.holes_known else ["whether holes run into each other"])


def _one(geometry: Geometry) -> bool:
    return len(_not_checked(geometry)) == 1


def turn_finding(wheel: Wheel, us_per_quarter: int, where: str) -> Iterator[Finding]:
    """That a song asks for a turn beyond what the wheel can do, with the tempi that it can; arguments as above."""
    turn_s = float(wheel.turn_quarters * us_per_quarter / 1_000_000)
    slowest_s, fastest_s = wheel.slowest_turn_s, wheel.fastest_turn_s
    at = f"at {quarters_per_minute(us_per_quarter):.4g} quarter notes a minute a turn takes {seconds_text(turn_s)}"
    lowest, highest = tempo_tenths(wheel)
    if fastest_s is not None and us_per_quarter < _us(wheel, fastest_s):
        message = f"{at}; the wheel can turn no faster than once in {seconds_text(fastest_s)}"
        yield Finding(TURN_CODES[0], Severity.CHANGED, where, message, _offer(lowest, highest))
    elif slowest_s is not None and us_per_quarter > _us(wheel, slowest_s):
        message = f"{at}; the wheel can turn no slower than once in {seconds_text(slowest_s)}"
        yield Finding(TURN_CODES[1], Severity.CHANGED, where, message, _offer(lowest, highest))


def sets_finding(wheel: Wheel, running: Sequence[int], where: str) -> Iterator[Finding]:
    """That a song needs more sets of plates than are owned.

    Args:
        wheel: of the song.
        running: the pinning of each turn.
        where: the song.
    """
    if len(set(running)) <= wheel.plate_sets:
        return
    from pegwright.show.turns import sets_short_words, turns_of  # noqa: PLC0415  # most songs need nothing of a show

    turns = turns_of(running, 1, wheel.plate_sets)
    short = sets_short_words(turns.pinning_count, turns.swaps_within, wheel.plate_sets)
    hint = f"own {turns.pinning_count} sets, or choose some of its --bars"
    yield Finding(SETS_CODE, Severity.NOTE, where, f"the song {short}", hint)


def _us(wheel: Wheel, turn_s: float) -> float:
    """Microseconds a quarter note at which a turn takes so long."""
    return turn_s * 1_000_000 / float(wheel.turn_quarters)


def _offer(lowest: int | None, highest: int | None) -> str:
    """The tempi at which the wheel can turn, in words."""
    if lowest is not None and highest is not None:
        if lowest > highest:
            return "no tempo in tenths of a quarter note a minute is within both bounds"
        return f"--tempo {lowest / 10:g} to {highest / 10:g} is within what it can"
    return f"--tempo {highest / 10:g} or slower" if highest is not None else f"--tempo {(lowest or 0) / 10:g} or faster"
