"""Golden cases: a wheel, some notes, and all that the fit must tell of them, as text that a person can check.

A file begins with its story, then has sections. `[wheel]`, `[score]` and `[options]` hold `name = value` lines, of
which `row`, `channel`, `lost`, `pin` and `limit` may come many times; `[notes]` has a line for each note: place in
quarter notes from the start, pitch, velocity, part, and how long it is in quarter notes where that is not a sixteenth.
`[outcome]`, `[pins]` and `[findings]` are what `described` makes of the fit, line for line; `[pins]`, which may be
missing, lists every pin where a note has more than one. Holes, plates and notes are counted from 1, as on everything
printed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi
from pathlib import Path

from pegwright.ask.options import ChannelRule, FitOptions
from pegwright.columns import frozen_ints
from pegwright.findings import Finding
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.score import Part, Score
from pegwright.units import fraction_text, printed, us_per_quarter
from pegwright.wheel import Channel, Collar, Kind, LostHole, PinType, Row, StrikeLimit, Wheel
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
    pins: list[str] | None
    findings: list[str]


def paths() -> list[Path]:
    return sorted(FOLDER.glob("*.txt"))


def load(path: Path) -> GoldenCase:
    named = sections(path)
    return GoldenCase(
        story=" ".join(named["story"]),
        score=_score(_settings(named["score"]), named["notes"]),
        wheel=_wheel(_settings(named["wheel"])),
        options=_options(_settings(named.get("options", []))),
        outcome=named.get("outcome", []),
        pins=named.get("pins"),
        findings=named.get("findings", []),
    )


def described(song: Score, on: Wheel, placement: Placement, findings: Iterable[Finding]) -> tuple[list[str], list[str]]:
    """The outcome of every note, and the findings, as the files write them."""
    outcomes = []
    for note in range(song.note_count):
        what = f"{fraction_text(Fraction(int(song.onset_ticks[note]), song.resolution))} {song.pitch_midi[note]}:"
        if placement.outcome[note] != Outcome.PLACED:
            outcomes.append(f"{what} {Outcome(int(placement.outcome[note])).words}")
            continue
        hole = _hole(on, placement, note)
        name = on.channels[int(placement.channel[note])].name
        moved = "exact" if placement.deviation_ms[note] == 0 else f"{placement.deviation_ms[note]:+.2f} ms"
        kind = int(placement.pin_type[note])
        with_pin = f", pin {on.pin_types[kind].name}" if kind else ""
        outcomes.append(f"{what} {name}, {hole}, {moved}{with_pin}")
    lines = []
    for finding in findings:
        lines.append(f"{finding.severity.name} {finding.code} at {finding.where}: {finding.message}")
        if finding.hint:
            lines.append(f"hint: {finding.hint}")
    return outcomes, lines


def described_pins(on: Wheel, pins: PinMap) -> list[str]:
    """Every pin as the files write it: `horn, plate 1 on 5, peg, note 1`."""
    return [
        f"{on.channels[int(pins.channel[pin])].name}, {_hole(on, pins, pin)}, "
        f"{on.pin_types[int(pins.pin_type[pin])].name}, note {printed(int(pins.note[pin]))}"
        for pin in range(pins.pin_count)
    ]


def _hole(on: Wheel, of: Placement | PinMap, item: int) -> str:
    row = on.rows[int(of.row[item])].name
    return f"plate {printed(int(of.plate[item]))} {row} {printed(int(of.index[item]))}"


def sections(path: Path) -> dict[str, list[str]]:
    """The lines of a file by section; those before the first are its story."""
    named: dict[str, list[str]] = {"story": []}
    name = "story"
    for line in path.read_text(encoding="utf-8").splitlines():
        stripped = line.strip()
        if stripped.startswith("["):
            name = stripped.strip("[]")
            named[name] = []
        elif stripped:
            named[name].append(stripped)
    return named


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
    """`C4 sounds 60, re-strike 90 ms` with `, rows on half` where it has not all, `, holds 15 mm` where it holds.

    `, early 1/2` follows where its pins are set so many steps early.
    """
    name, sounds, *more = [part.strip() for part in text.replace(" sounds ", ", ").split(",")]
    known = {part.split()[0]: part.split()[1:] for part in more}
    hold_mm = float(known["holds"][0]) if "holds" in known else 0.0
    early = Fraction(known["early"][0]) if "early" in known else Fraction(0)
    made = channel(
        name,
        [int(pitch) for pitch in sounds.split()],
        restrike_ms=float(known["re-strike"][0]),
        rows=known.get("rows", [row.name for row in rows]),
        kind=Kind.HOLD if hold_mm else Kind.STRIKE,
        hold_mm=hold_mm,
    )
    return replace(made, advance_steps=early)


def _pin(text: str) -> PinType:
    """`peg`, with `at +4 mm` where it trips beside its hole's middle, or `over 31 mm` where it is a bridge.

    `, collar stays` follows where only the tripping edge is beside the middle.
    """
    text, _, collar = text.partition(", collar ")
    name, *words = text.split()
    known = dict(zip(words[::3], words[1::3], strict=True))
    return PinType(name, 1000, float(known.get("at", 0)), float(known.get("over", 0)), Collar(collar or "moves"))


def _limit(text: str) -> StrikeLimit:
    """`drive allows 2 in 250 ms of C4 D4`."""
    name, _, strikes, _, window_ms, _, _, *channels = text.split()
    return StrikeLimit(name, tuple(channels), int(strikes), float(window_ms))


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
        pin_types=tuple(_pin(text) for text in settings.get("pin", ["peg"])),
        strike_limits=tuple(_limit(text) for text in settings.get("limit", [])),
        geometry=geometry,
    )


def _score(settings: Settings, lines: list[str]) -> Score:
    resolution = int(settings["resolution"][0])
    notes = [line.split() for line in lines]
    names = list(dict.fromkeys(note[3] for note in notes))
    rows = [(_tick(note[0], resolution), int(note[1]), int(note[2]), names.index(note[3])) for note in notes]
    plain = score(
        rows,
        resolution=resolution,
        us_per_quarter=us_per_quarter(Fraction(settings["tempo"][0])),
        tolerance_ticks=int(settings.get("tolerance", ["0"])[0]),
        parts=tuple(Part(name) for name in names),
    )
    ordered = sorted(zip(rows, notes, strict=True), key=lambda pair: (pair[0][0], pair[0][3], *pair[0][1:3]))
    lengths = [_tick((note[4:] or ["1/4"])[0], resolution) for _, note in ordered]
    return replace(plain, duration_ticks=frozen_ints(lengths))


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
        channel_rule=ChannelRule(settings.get("rule", ["prefer"])[0]),
    )
