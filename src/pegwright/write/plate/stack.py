"""Tolerances in milliseconds, as a page of plain text and as JSON (`schema/stack-1.json`)."""

from __future__ import annotations

from pegwright.facts import speed_at
from pegwright.frozen import frozen
from pegwright.json_value import Json
from pegwright.making import PlateFile, Source, Tolerance
from pegwright.plate.stack import SourceShare, Stack, Total
from pegwright.plate.tolerance import IN_WORDS
from pegwright.units import LengthUnit, length_text
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_file, rounded
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.tables import HANG, LINE_CELLS, Line, TextTable, one_line, paragraphs

FORMAT = "pegwright stack"
VERSION = 1
_SHARE_DECIMALS = 6


@frozen(eq=False)
class StackSubject:
    """What tolerances were judged on.

    Args:
        plate: the plate file.
        wheel: that it names.
        song: the name of the song's file; None for the steps of the turn.
        seed: of the simulation.
    """

    plate: PlateFile
    wheel: Wheel
    song: str | None
    seed: int


def stack_text(subject: StackSubject, stack: Stack, width: int = LINE_CELLS) -> str:
    """What every tolerance comes to, all together, and which to halve.

    Args:
        subject: what they were judged on.
        stack: their sum.
        width: cells of a line.
    """
    blocks: list[list[Line]] = [
        _title(subject, stack),
        [_sources(subject, stack)],
        [_totals(stack)],
        _verdict(stack),
        _legend(),
    ]
    return paragraphs(blocks, width)


def _title(subject: StackSubject, stack: Stack) -> list[Line]:
    wheel = subject.wheel
    speed = speed_at(wheel, stack.tempo)
    one_mm = length_text(1.0 if wheel.unit is LengthUnit.MM else 25.4, wheel.unit)
    ms = speed.ms_per_mm * (1.0 if wheel.unit is LengthUnit.MM else 25.4)
    lines: list[Line] = [f"Tolerances of {one_line(wheel.name, LINE_CELLS)} in milliseconds"]
    lines.append(f"{stack.tempo:g} quarter notes a minute: {one_mm} along the rim is {ms:.2f} ms.")
    if subject.song is None:
        lines.append(f"Judged by all {stack.places.count:,} steps of a turn, each beside the step before it.")
    else:
        song = one_line(subject.song, 40)
        lines.append(f"Judged by {stack.places.count:,} placed notes of {song}, each beside the nearest other onset.")
    return lines


def _sources(subject: StackSubject, stack: Stack) -> TextTable:
    header = [
        "Tolerance",
        "half-width",
        "at most ms",
        "u ms",
        "judged at most",
        "judged u",
        "halved 95 %",
    ]
    rows = [
        [
            IN_WORDS[share.tolerance.source],
            _half_width(share.tolerance, subject.wheel.unit),
            f"{share.greatest_ms:.2f}",
            f"{share.std_ms:.2f}",
            f"{share.judged_greatest_ms:.2f}",
            f"{share.judged_std_ms:.2f}",
            f"{share.halved_95_ms:.2f}",
        ]
        for share in stack.shares
    ]
    return TextTable(header, rows, left=(0,))


def _half_width(tolerance: Tolerance, unit: LengthUnit) -> str:
    match tolerance.source:
        case Source.K:
            return f"{tolerance.half_width:.3g}"
        case Source.HEAT:
            return f"{tolerance.half_width:g} K"
        case Source.SPEED:
            return f"{100 * tolerance.half_width:.3g} %"
    return length_text(tolerance.half_width, unit, 3)


def _totals(stack: Stack) -> TextTable:
    size, judged = stack.size, stack.judged
    rows = [
        ["worst case", f"{size.worst_ms:.2f}", f"{judged.worst_ms:.2f}"],
        ["root sum square, u", f"{size.rss_ms:.2f}", f"{judged.rss_ms:.2f}"],
        ["simulation, u", f"{size.simulated_ms:.2f}", f"{judged.simulated_ms:.2f}"],
        ["simulation, 95 % within", f"{size.within_95_ms:.2f}", f"{judged.within_95_ms:.2f}"],
    ]
    return TextTable(["All together", "place ms", "judged ms"], rows)


def _verdict(stack: Stack) -> list[Line]:
    best = stack.best
    noticed = stack.slight + stack.audible
    lines: list[Line] = [
        f"Of all notes {_percent(stack.unheard)} unheard, {_percent(stack.slight)} slight,"
        f" {_percent(stack.audible)} audible, in {stack.turns:,} simulated turns."
    ]
    if not stack.steady:
        lines.append(f"The 95 % value was not steady to 1 % after {stack.turns:,} turns.")
    if best.judged_greatest_ms:
        lines.append(
            f"Halved, {IN_WORDS[best.tolerance.source]} helps most: 95 % of the notes are then within"
            f" {best.halved_95_ms:.2f} ms instead of {stack.judged.within_95_ms:.2f} ms, and"
            f" {_percent(best.halved_noticed)} slight or audible instead of {_percent(noticed)}."
        )
    return lines


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _legend() -> list[Line]:
    return [
        f"at most  {HANG}the error at the note for which it is greatest, where all is off by its half-width; u is the"
        " standard uncertainty, the root mean square over all notes.",
        f"judged  {HANG}holes, pins and readers by their size; what shifts many notes alike, such as run-out, heat or a"
        " plate off its place, by the change from note to note.",
        f"halved  {HANG}within which 95 % of the judged errors lie where this tolerance alone is halved.",
    ]


def stack_json(subject: StackSubject, stack: Stack) -> bytes:
    """The same for programs."""
    document: dict[str, Json] = {
        "wheel": wheel_json(subject.wheel),
        "plate_file_sha256": subject.plate.sha256,
        "song": subject.song,
        "quarters_per_minute": stack.tempo,
        "ms_per_mm": rounded(speed_at(subject.wheel, stack.tempo).ms_per_mm),
        "note_count": stack.places.count,
        "seed": subject.seed,
        "turns": stack.turns,
        "steady": stack.steady,
        "tolerances": [_share(share) for share in stack.shares],
        "place": _total(stack.size),
        "judged": _total(stack.judged),
        "shares": {
            "unheard": round(stack.unheard, _SHARE_DECIMALS),
            "slight": round(stack.slight, _SHARE_DECIMALS),
            "audible": round(stack.audible, _SHARE_DECIMALS),
        },
        "halve_first": stack.best.tolerance.source,
    }
    return json_file(FORMAT, VERSION, document)


def _share(share: SourceShare) -> Json:
    tolerance = share.tolerance
    return {
        "source": tolerance.source,
        "half_width": round(tolerance.half_width, _SHARE_DECIMALS),
        "unit": {Source.K: "thickness", Source.HEAT: "K", Source.SPEED: "speed"}.get(tolerance.source, "mm"),
        "distribution": tolerance.spread,
        "cycles_per_turn": tolerance.cycles,
        "greatest_ms": rounded(share.greatest_ms),
        "u_ms": rounded(share.std_ms),
        "judged_greatest_ms": rounded(share.judged_greatest_ms),
        "judged_u_ms": rounded(share.judged_std_ms),
        "halved_95_ms": rounded(share.halved_95_ms),
        "halved_noticed": round(share.halved_noticed, _SHARE_DECIMALS),
    }


def _total(total: Total) -> Json:
    return {
        "worst_ms": rounded(total.worst_ms),
        "root_sum_square_ms": rounded(total.rss_ms),
        "simulated_ms": rounded(total.simulated_ms),
        "within_95_ms": rounded(total.within_95_ms),
    }
