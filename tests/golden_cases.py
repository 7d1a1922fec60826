"""Golden cases: a wheel, some notes, and all that the fit must tell of them, as text that a person can check.

A file begins with its story, then has sections. `[wheel]`, `[score]` and `[options]` hold `name = value` lines, of
which `row`, `channel` and `lost` may come many times; `[notes]` has a line for each note: place in quarter notes from
the start, pitch, velocity, part. `[outcome]` and `[findings]` are what `told` makes of the fit, line for line.
Holes and plates are counted from 1, as on everything printed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi
from pathlib import Path

from pegwright.findings import Finding
from pegwright.fit.options import FitOptions
from pegwright.placement import Outcome, Placement
from pegwright.score import Part, Score
from pegwright.units import fraction_text, printed, us_per_quarter
from pegwright.wheel import Channel, LostHole, Row, Wheel
from samples import GEOMETRY, channel, score, wheel

FOLDER = Path(__file__).parent / "golden"
Settings = dict[str, list[str]]


@dataclass(frozen=True)
class GoldenCase:
    """One file."""

    story: str
    score: Score
    wheel: Wheel
    options: FitOptions
    outcome: list[str]
    findings: list[str]


def paths() -> list[Path]:
    return sorted(FOLDER.glob("*.txt"))


def load(path: Path) -> GoldenCase:
    sections = _sections(path.read_text(encoding="utf-8"))
    return GoldenCase(
        story=" ".join(sections["story"]),
        score=_score(_settings(sections["score"]), sections["notes"]),
        wheel=_wheel(_settings(sections["wheel"])),
        options=_options(_settings(sections.get("options", []))),
        outcome=sections["outcome"],
        findings=sections["findings"],
    )


def told(made: Score, on: Wheel, placement: Placement, findings: Iterable[Finding]) -> tuple[list[str], list[str]]:
    """The outcome of every note, and the findings, as the files write them."""
    outcomes = []
    for note in range(made.note_count):
        place = Fraction(int(made.onset_ticks[note]), made.resolution)
        what = f"{fraction_text(place)} {made.pitch_midi[note]}:"
        if placement.outcome[note] != Outcome.PLACED:
            outcomes.append(f"{what} {Outcome(int(placement.outcome[note])).words}")
            continue
        row = on.rows[int(placement.row[note])].name
        hole = f"plate {printed(int(placement.plate[note]))} {row} {printed(int(placement.index[note]))}"
        name = on.channels[int(placement.channel[note])].name
        moved = "exact" if placement.deviation_ms[note] == 0 else f"{placement.deviation_ms[note]:+.2f} ms"
        outcomes.append(f"{what} {name}, {hole}, {moved}")
    lines = []
    for finding in findings:
        lines.append(f"{finding.severity.name} {finding.code} at {finding.where}: {finding.message}")
        if finding.hint:
            lines.append(f"hint: {finding.hint}")
    return outcomes, lines


def _sections(text: str) -> dict[str, list[str]]:
    sections: dict[str, list[str]] = {"story": []}
    name = "story"
    for line in text.splitlines():
        stripped = line.strip()
        if stripped.startswith("["):
            name = stripped.strip("[]")
            sections[name] = []
        elif stripped:
            sections[name].append(stripped)
    return sections


def _settings(lines: list[str]) -> Settings:
    settings: Settings = {}
    for line in lines:
        name, _, value = (part.strip() for part in line.partition("="))
        settings.setdefault(name, []).append(value)
    return settings


def _row(text: str) -> Row:
    """`triplet at 2/3 4/3 in 2 steps, 2 mm across`."""
    name, _, rest = text.partition(" at ")
    phases, _, across = rest.partition(",")
    places, _, period = phases.partition(" in ")
    return Row(
        name,
        tuple(Fraction(place) for place in places.split()),
        int(period.split()[0]) if period else 1,
        float(across.split()[0]) if across else 0.0,
    )


def _channel(text: str, rows: tuple[Row, ...]) -> Channel:
    """`C4 sounds 60, re-strike 90 ms` with `, rows on half` where it has not all."""
    name, sounds, *more = [part.strip() for part in text.replace(" sounds ", ", ").split(",")]
    known = dict(part.rsplit(" ", 2)[0:2] for part in more if part.endswith("ms"))
    named = next((part.split()[1:] for part in more if part.startswith("rows")), [row.name for row in rows])
    return channel(name, [int(pitch) for pitch in sounds.split()], restrike_ms=float(known["re-strike"]), rows=named)


def _lost(text: str) -> LostHole:
    """`half 8` with `on plate 1` where it is not on all."""
    words = text.split()
    return LostHole(words[0], int(words[1]) - 1, int(words[4]) - 1 if len(words) > 2 else None)


def _wheel(settings: Settings) -> Wheel:
    rows = tuple(_row(text) for text in settings["row"])
    plates, steps = int(settings["plates"][0]), int(settings["steps"][0])
    step_mm = float(settings.get("step_mm", ["15.625"])[0])
    geometry = replace(
        GEOMETRY,
        radius_mm=step_mm * plates * steps / (2 * pi),
        lead_edge_mm=float(settings.get("lead_edge_mm", ["5"])[0]),
        trail_edge_mm=float(settings.get("trail_edge_mm", ["3"])[0]),
    )
    return wheel(
        [_channel(text, rows) for text in settings["channel"]],
        plate_count=plates,
        steps_per_plate=steps,
        step_quarters=Fraction(settings["step"][0]),
        rows=rows,
        lost=tuple(_lost(text) for text in settings.get("lost", [])),
        reach_quarters=Fraction(settings.get("reach", ["1/16"])[0]),
        geometry=geometry,
    )


def _score(settings: Settings, lines: list[str]) -> Score:
    resolution = int(settings["resolution"][0])
    notes = [line.split() for line in lines]
    names = list(dict.fromkeys(note[3] for note in notes))
    rows = [(_tick(note[0], resolution), int(note[1]), int(note[2]), names.index(note[3])) for note in notes]
    return score(
        rows,
        resolution=resolution,
        us_per_quarter=us_per_quarter(Fraction(settings["tempo"][0])),
        tolerance_ticks=int(settings.get("tolerance", ["0"])[0]),
        parts=tuple(Part(name) for name in names),
    )


def _tick(text: str, resolution: int) -> int:
    """The tick nearest to a place in quarter notes such as `2+1/3`, as a file of that resolution rounds it."""
    return round(sum(Fraction(part) for part in text.split("+")) * resolution)


def _options(settings: Settings) -> FitOptions:
    priorities = tuple((text.split()[0], int(text.split()[1])) for text in settings.get("priority", []))
    reach = settings.get("reach")
    return FitOptions(
        transpose_semitones=int(settings.get("transpose", ["0"])[0]),
        start_steps=Fraction(settings.get("start", ["0"])[0]),
        reach_quarters=Fraction(reach[0]) if reach else None,
        part_priorities=priorities,
    )
