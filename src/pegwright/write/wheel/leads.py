"""The leads of a wheel, as a page of text and as JSON."""

from __future__ import annotations

from pegwright.json_value import Json
from pegwright.plate.leads import ChannelLead, Leads
from pegwright.units import LengthUnit, listed, printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_bytes, rounded
from pegwright.write.tables import HANG, LINE_CELLS, Line, TextTable, one_line, paragraphs

NAME_CELLS = 20


def leads_text(wheel: Wheel, leads: Leads, width: int = LINE_CELLS) -> str:
    """The leads, where each reader is best put, what that leaves at other tempos, and how to write it down.

    Args:
        wheel: the wheel.
        leads: of it.
        width: cells of a line.
    """
    head: list[Line] = [
        one_line(wheel.name, LINE_CELLS),
        f"Leads taken away at {leads.tempo:g} quarter notes a minute, {leads.step_ms:.2f} ms a step",
    ]
    return paragraphs([head, [_table(wheel, leads)], _apart(leads), *_how(wheel, leads)], width)


def leads_json(wheel: Wheel, leads: Leads) -> bytes:
    """The same for programs; channels count from 1."""
    document: dict[str, Json] = {
        "wheel": wheel.name,
        "wheel_sha256": wheel.sha256,
        "quarters_per_minute": leads.tempo,
        "other_quarters_per_minute": list(leads.tempos),
        "step_ms": rounded(leads.step_ms),
        "now_apart_ms": rounded(leads.now_apart_ms),
        "left_apart_ms": [rounded(apart_ms) for apart_ms in leads.left_apart_ms],
        "channels": [
            {
                "number": printed(number),
                "name": lead.name,
                "lead_ms": rounded(lead.lead_ms),
                "fall_mm": lead.fall_mm,
                "now_ms": rounded(lead.now_ms),
                "reader_mm": None if lead.reader_mm is None else rounded(lead.reader_mm),
                "advance_steps": float(lead.advance_steps),
                "reader_mm_with_advance": None if lead.rest_reader_mm is None else rounded(lead.rest_reader_mm),
                "rows_lost": list(lead.rows_lost),
                "left_ms": [rounded(ms) for ms in lead.left_ms],
            }
            for number, lead in enumerate(leads.channels)
        ],
    }
    return json_bytes(document)


def _table(wheel: Wheel, leads: Leads) -> TextTable:
    early = any(lead.advance_steps for lead in leads.channels)
    digits = len(str(len(leads.channels)))
    rows = [
        (
            f"{printed(number):{digits}} {one_line(lead.name, NAME_CELLS)}",
            f"{lead.lead_ms:.2f}{'*' if lead.fall_mm else ''}",
            _signed(lead.now_ms, 1),
            _length(lead.reader_mm, wheel.unit),
            *([_early(lead, wheel.unit)] if early else []),
            *(_signed(ms, 2) for ms in lead.left_ms),
        )
        for number, lead in enumerate(leads.channels)
    ]
    header = ["Channel", "lead ms", "late now ms", f"reader_{wheel.unit}"]
    header += ["or advance_steps"] * early + [f"left at {tempo:g}" for tempo in leads.tempos]
    return TextTable(header, rows, left=(0,))


def _signed(value: float, decimals: int) -> str:
    """A number with its sign; 0 has none."""
    text = f"{value:+.{decimals}f}"
    return text[1:] if float(text) == 0 else text


def _length(length_mm: float | None, unit: LengthUnit) -> str:
    return "?" if length_mm is None else _signed(unit.of(length_mm), 3 if unit is LengthUnit.IN else 2)


def _early(lead: ChannelLead, unit: LengthUnit) -> str:
    if not lead.advance_steps:
        return "-"
    return f"{float(lead.advance_steps):g}, {_length(lead.rest_reader_mm, unit)}"


def _apart(leads: Leads) -> list[Line]:
    """How far apart channels sound whose pins are set for one moment."""
    now = f"As the wheel file is, channels sound up to {leads.now_apart_ms:.1f} ms apart at {leads.tempo:g}."
    if not leads.tempos:
        return [now]
    left = listed([f"{ms:.1f} ms at {tempo:g}" for tempo, ms in zip(leads.tempos, leads.left_apart_ms, strict=True)])
    return [now, f"With the leads taken away: none at {leads.tempo:g}; up to {left}."]


def _how(wheel: Wheel, leads: Leads) -> list[list[Line]]:
    """What the columns mean, and what to write in the wheel file."""
    unit, how = wheel.unit, list[Line]()
    how.append(
        f"reader_{unit}  {HANG}where a reader takes the lead away: so far along the rim after the common line of the"
        " readers; below 0 it stands before it. Put it there, and write it in the wheel file."
    )
    if any(lead.advance_steps for lead in leads.channels):
        how.append(
            f"advance_steps  {HANG}for leads longer than half a step: set all pins of the channel early by the first"
            f" number, and the reader at the reader_{unit} given after the comma. Then fit and pin the songs again."
        )
    if lost := sorted({row for lead in leads.channels for row in lead.rows_lost}):
        how.append(f"Set early, channels have no holes for notes in row {listed(lost)}: see pegwright fit.")
    if any(lead.fall_mm for lead in leads.channels):
        how.append("* computed from the fall, without drag: measure it where you can.")
    if not wheel.geometry.radius_known:
        how.append(f"The radius is not known, and a length on the rim is a time only by it: add radius_{unit}.")
    if leads.tempos:
        how.append(
            "left at  "
            + HANG
            + "in ms, at other tempos: what takes a lead away is a length, and a length passes in another"
            " time there; late is above 0."
        )
    return [how]
