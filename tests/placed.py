"""Songs placed by hand on a wheel, so that what is written can be checked without the fitting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from hypothesis import strategies as st

from pegwright.ask.request import PLAIN, Request
from pegwright.columns import Ints, OnDemand, frozen_floats, frozen_ints
from pegwright.findings import Finding, Severity
from pegwright.fit.openings import Folded
from pegwright.fit.pins import pins_of
from pegwright.grid import hole_grid
from pegwright.placement import Outcome, PinMap, Placement, Status
from pegwright.score import Score
from pegwright.song import EditedSong, FittedSong, FittedTurn
from pegwright.song_pipeline.files import report_page
from pegwright.song_pipeline.fitting import remedies_for
from pegwright.tell.findings import CODES, MOVED_CODE, UNISON_CODE, FitFindings
from pegwright.tell.report import report_on
from pegwright.units import ticks_to_ms
from pegwright.wheel import PinType, Wheel
from samples import channel, score, wheel

RESOLUTION = 24
TWO_TYPES = (PinType("peg", 100), PinType("long peg", 5))


@dataclass(frozen=True)
class Placed:
    """All that a writer takes."""

    score: Score
    wheel: Wheel
    placement: Placement
    pins: PinMap

    @property
    def song(self) -> FittedSong:
        return song_of(self.score, self.wheel, self.placement, pins=self.pins)


@dataclass(frozen=True)
class Note:
    """One note and what became of it: a hole (channel, plate, row, index, pin type), or the reason for none."""

    onset_ticks: int
    pitch_midi: int
    fate: tuple[int, int, int, int, int] | Outcome
    deviation_ticks: int = 0
    part: int = 0
    unison: int = -1


def placed(
    notes: Sequence[Note], on: Wheel, made: Score | None = None, extra_pins: Sequence[tuple[int, ...]] = ()
) -> Placed:
    """Place notes as told; `extra_pins` are (channel, plate, row, index, pin type, note) beyond one a note."""
    notes = sorted(notes, key=lambda note: (note.onset_ticks, note.part, note.pitch_midi))
    rows = [(note.onset_ticks, note.pitch_midi, 80, note.part) for note in notes]
    song = made or score(rows, resolution=RESOLUTION)
    holes = [_hole(notes, note) for note in notes]
    columns = list(zip(*holes, strict=True)) or [()] * 5
    deviation = [note.deviation_ticks for note in notes]
    placement = Placement(
        outcome=frozen_ints([note.fate if isinstance(note.fate, Outcome) else Outcome.PLACED for note in notes]),
        channel=frozen_ints(columns[0]),
        plate=frozen_ints(columns[1]),
        row=frozen_ints(columns[2]),
        index=frozen_ints(columns[3]),
        pin_type=frozen_ints(columns[4]),
        deviation_ticks=frozen_ints(deviation),
        deviation_ms=frozen_floats([ticks_to_ms(ticks, RESOLUTION, 500_000) for ticks in deviation]),
        unison=frozen_ints([note.unison for note in notes]),
        resolution=RESOLUTION,
        start_ticks=6 * 33,
        transpose_semitones=-2,
        us_per_quarter=500_000,
        reach_ticks=1,
        score_sha256=song.sha256,
        wheel_sha256=on.sha256,
        weight=80 * len(notes),
        weight_bound=80 * len(notes),
        cost_ticks=sum(map(abs, deviation)),
        status=Status.OPTIMAL,
    )
    pins = [(*hole, number) for number, hole in enumerate(holes) if hole[1] >= 0] + list(extra_pins)
    return Placed(song, on, placement, pin_map(on, pins, title=song.title))


def _hole(notes: Sequence[Note], note: Note) -> tuple[int, int, int, int, int]:
    """Its own; where it has none that of no channel, or of the channel that it shares a strike with."""
    if not isinstance(note.fate, Outcome):
        return note.fate
    return (-1 if note.unison < 0 else _hole(notes, notes[note.unison])[0], -1, -1, -1, -1)


def pin_map(on: Wheel, pins: Sequence[tuple[int, ...]], title: str = "Test song") -> PinMap:
    """A pin map of (channel, plate, row, index, pin type, note) in the order that pin maps have."""

    def place(pin: tuple[int, ...]) -> tuple[int, Fraction, int]:
        return pin[0], pin[1] * on.steps_per_plate + on.rows[pin[2]].position_steps(pin[3]), pin[2]

    columns = [frozen_ints(column) for column in zip(*sorted(pins, key=place), strict=True)] or [frozen_ints([])] * 6
    channels, plates, rows, indexes, types, notes = columns
    return PinMap(
        title,
        on.name,
        channels,
        plates,
        rows,
        indexes,
        types,
        notes,
        500_000,
        score_sha256="1" * 64,
        wheel_sha256=on.sha256,
    )


def small_wheel(**changes: object) -> Wheel:
    """Three plates of eight steps, three bars and two pin types."""
    channels = [channel("low bar", [60]), channel("high bar", [72]), channel("block", [], [76], rows=["on"])]
    return wheel(channels, **{"plate_count": 3, "steps_per_plate": 8, "pin_types": TWO_TYPES, **changes})


TITLES = (
    "Air",
    "",
    "=1+1",
    "-2\n+3",
    "<b>&amp;",
    "[red]x[/]",
    "\u202egnol",
    "\U0001f469\u200d\U0001f4bb",
    "\x1b[31m",
    "a\0b",
    "\udcff",
    "x" * 10_000,
)


def pin_maps(on: Wheel) -> st.SearchStrategy[PinMap]:
    """Any pins in holes that the wheel has."""
    holes = [
        (number, int(line.plate[hole]), int(line.row[hole]), int(line.index[hole]))
        for number, line in enumerate(hole_grid(on).lines)
        for hole in range(len(line.position))
        if not line.loss[hole]
    ]
    pin = st.tuples(st.sampled_from(holes), st.integers(0, len(on.pin_types) - 1), st.integers(-1, 999))
    pins = st.lists(pin, unique_by=lambda drawn: drawn[0], max_size=30)
    return st.builds(
        lambda drawn, title: pin_map(on, [(*hole, kind, note) for hole, kind, note in drawn], title),
        pins,
        st.sampled_from(TITLES),
    )


def findings_on(score: Score, placement: Placement, findings: Sequence[Finding]) -> FitFindings:
    """Findings as a fit gives them; those on single notes are known by their code and place, in order of the notes."""
    if isinstance(findings, FitFindings):
        return findings
    left_out, moved = np.flatnonzero(placement.outcome != Outcome.PLACED), np.flatnonzero(placement.deviation_ms != 0)
    shared, waiting = placement.shared, defaultdict[tuple[str, str], list[int]](list)
    for note in (*left_out.tolist(), *moved.tolist()):
        code = UNISON_CODE if shared[note] else CODES.get(Outcome(int(placement.outcome[note])), MOVED_CODE)
        waiting[code, str(score.source(note))].append(note)
    own, whole = {}, []
    for finding in findings:
        if notes := waiting.get((finding.code, finding.where)):
            own[notes.pop(0)] = finding
        elif finding.code not in {*CODES.values(), UNISON_CODE, MOVED_CODE}:
            whole.append(finding)
    none = Finding("", Severity.NOTE, "", "")

    def make(notes: Ints) -> list[Finding]:
        return [own.get(note, none) for note in notes.tolist()]

    def folded(notes: Ints) -> Folded:
        return Folded(np.zeros_like(notes), np.full_like(notes, -1))

    numbers = np.concatenate([left_out, moved])
    return FitFindings(whole, OnDemand(numbers, make), OnDemand(numbers[:0], make), folded)


def song_of(
    score: Score,
    wheel: Wheel,
    placement: Placement,
    findings: Sequence[Finding] = (),
    request: Request = PLAIN,
    pins: PinMap | None = None,
) -> FittedSong:
    """A song of one turn as the pipeline would hand it on, made of what a test has."""
    made = pins_of(score, wheel, placement) if pins is None else pins
    edited = EditedSong(Path(score.file), score.note_count, score, request, tuple(findings), {})
    of_fit = findings_on(score, placement, findings)
    report = report_on(score, wheel, [(score, placement, of_fit)])
    turn = FittedTurn(score, placement, made, of_fit)
    return FittedSong(edited, wheel, request.options, (turn,), (0,), tuple(findings), report)


def with_score(song: FittedSong, score: Score, findings: Sequence[Finding] | None = None) -> FittedSong:
    """A fitted song of one turn with another score, for instance with a title that is hard to print."""
    (turn,) = song.turns
    kept = song.findings if findings is None else tuple(findings)
    report = report_on(score, song.wheel, [(score, turn.placement, findings_on(score, turn.placement, kept))])
    return replace(
        song,
        edited=replace(song.edited, score=score),
        turns=(replace(turn, score=score),),
        findings=kept,
        report=report,
    )


def page_of(song: FittedSong) -> bytes:
    """The report page with what would help, as `pegwright pin` writes it."""
    return report_page(song, remedies_for(song))
