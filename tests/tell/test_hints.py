"""What a hint promises of a note is true when it is tried."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

import strategies
from crowded import crowd
from golden_cases import GoldenCase, load, paths
from openings_tried import Tried
from pegwright.ask.options import FitOptions
from pegwright.errors import UsageError
from pegwright.findings import Severity
from pegwright.fit.placing import TurnFit, fit_turn
from pegwright.placement import Outcome
from pegwright.score import Score
from pegwright.tell.findings import findings_of, fit_with_findings
from pegwright.units import quarters_per_minute, us_per_quarter
from pegwright.wheel import LostHole, StrikeLimit, Wheel, step_name
from samples import GEOMETRY, channel, score, wheel
from thorough import cases


def case(name: str) -> GoldenCase:
    return load(next(path for path in paths() if name in path.stem))


def retried(name: str, pattern: str) -> tuple[GoldenCase, re.Match[str]]:
    made = case(name)
    _, findings = fit_with_findings(made.score, made.wheel, made.options)
    hints = [match for finding in findings if (match := re.search(pattern, finding.hint))]
    assert len(hints) == 1
    return made, hints[0]


def left_out_with(made: GoldenCase, options: FitOptions) -> int:
    return fit_with_findings(made.score, made.wheel, options)[0].left_out_count


def test_a_slower_tempo_gives_both_notes_a_pin_and_a_hair_faster_does_not() -> None:
    made, hint = retried("04-re-strike", r"at ([\d.]+) quarter notes a minute or slower")
    exact = replace(made.options, reach_quarters=Fraction(0))  # or a note would be moved out of the way
    slow = us_per_quarter(Fraction(hint.group(1)))
    assert left_out_with(made, replace(exact, us_per_quarter=slow)) == 0
    faster = us_per_quarter(Fraction(hint.group(1)) + Fraction(1, 10))
    assert left_out_with(made, replace(exact, us_per_quarter=faster)) == 1


def test_another_start_gives_the_note_a_hole() -> None:
    made, hint = retried("02-lost", r"starting (\d+) steps? (later|earlier)")
    steps = int(hint.group(1)) * (1 if hint.group(2) == "later" else -1)
    assert left_out_with(made, replace(made.options, start_steps=made.options.start_steps + steps)) == 0


def test_a_wider_reach_takes_the_hole_in() -> None:
    made, hint = retried("11-off-the-grid", r"--reach ([\d/]+)")
    assert left_out_with(made, replace(made.options, reach_quarters=4 * Fraction(hint.group(1)))) == 0


def test_folding_gives_the_note_the_channel_that_was_named() -> None:
    made, hint = retried("12-no-channel", r"1 octave lower, on channel (\w+)")
    placement, _ = fit_with_findings(made.score, made.wheel, replace(made.options, fold_octaves=True))
    assert made.wheel.channels[int(placement.channel[0])].name == hint.group(1)
    assert placement.outcome[0] == Outcome.PLACED


TEMPO = re.compile(r"at ([\d.]+) quarter notes a minute or slower there is a hole for it")
REACH = re.compile(r"--reach ([\d/]+) (takes that hole in|gives it plate (\d+) step ([\d/. ]+) row (\w+)[^;]*)")
START = re.compile(r"starting (\d+) steps? (later|earlier) on the turn gives it a hole")
FOLD = re.compile(r"folding octaves would sound it \d octaves? (?:higher|lower), on channel ([^;]+)")
KINDS = {"tempo": TEMPO, "reach": REACH, "start": START, "fold": FOLD}


def check_tempo(tried: Tried, note: int, hint: re.Match[str] | None) -> None:
    now = quarters_per_minute(tried.us)
    slowest = us_per_quarter(Fraction(max(10, math.ceil(5 * now)), 10))
    if hint is None:
        assert not tried.stands_within_reach(note, max(slowest, tried.us))
        return
    tempo = Fraction(hint.group(1))
    assert now / 2 <= tempo < now
    (pin, *_) = tried.stands_within_reach(note, us_per_quarter(tempo))
    assert tried.by_hand(note, pin, us_per_quarter(tempo)) == ()
    assert not tried.stands_within_reach(note, us_per_quarter(tempo + Fraction(1, 10)))


def check_reach(tried: Tried, note: int, hint: re.Match[str] | None) -> None:
    nearest = tried.nearest_beyond(note)
    assert (nearest is None) == (hint is None)
    if nearest is None or hint is None:
        return
    reach = 4 * Fraction(hint.group(1))  # the option takes a share of a whole note
    exact = Fraction(abs(nearest.away), tried.resolution)
    assert exact <= reach < exact + Fraction(1, 96)
    assert reach < tried.wheel.turn_quarters / 2
    assert tried.by_hand(note, nearest) == ()
    if hint.group(3):
        plate, step, row = int(hint.group(3)) - 1, hint.group(4), hint.group(5)
        named = [
            pin
            for pin in tried.places(note, tried.channels(note), abs(nearest.away))
            if (pin.plate, tried.wheel.rows[pin.row].name) == (plate, row)
            and step_name(tried.wheel.rows[pin.row], pin.index) == step
            and tried.stands(pin)
        ]
        assert abs(nearest.away) in {abs(pin.away) for pin in named}


def check_start(tried: Tried, note: int, hint: re.Match[str] | None) -> None:
    steps = 0 if hint is None else int(hint.group(1)) * (1 if hint.group(2) == "later" else -1)
    assert steps == tried.start_steps(note)


def check_folding(tried: Tried, note: int, hint: re.Match[str] | None) -> None:
    channels = tried.folded_channels(note)
    assert (hint is None) == (not channels)
    if hint:
        assert hint.group(1) in {tried.wheel.channels[channel].name for channel in channels}
        for pin in tried.stands_within_reach(note, fold=True)[:1]:
            assert tried.by_hand(note, pin) == ()


CHECKS = {"tempo": check_tempo, "reach": check_reach, "start": check_start, "fold": check_folding}


def random_wheel(chance: np.random.Generator) -> Wheel:
    """A small wheel, some of its holes lost; its channels may share pitches, count for limits, and hold."""

    def one_of(*values: object) -> Any:  # noqa: ANN401  # a value of any type
        return values[chance.integers(len(values))]

    rows = tuple(
        replace(row, lateral_mm=one_of(0.0, 2.0, -3.0, 3.3, 4.0))
        for row in (strategies.ROWS[place] for place in chance.permutation(4)[: chance.integers(1, 5)])
    )
    names, plates, steps = [row.name for row in rows], one_of(1, 2, 3), one_of(6, 8, 12)
    channels = [
        channel(
            f"voice {number}",
            sorted({60 + number, *(60 + int(pitch) for pitch in chance.integers(0, 3, 2))}),
            [35 + number],
            restrike_ms=one_of(0.0, 15.0, 90.0, 150.0, 333.3),
            rows=[name for name in names if chance.random() < 0.8] or names[:1],
            hold_mm=one_of(0.0, 0.0, 0.0, 5.0),
        )
        for number in range(chance.integers(1, 4))
    ]
    limits = tuple(
        StrikeLimit(f"limit {most}", tuple(made.name for made in channels[: chance.integers(1, 4)]), most, window_ms)
        for most, window_ms in ((1, one_of(0.5, 60.0, 400.0)), (2, one_of(125.0, 400.0, 700.0)))
        if chance.random() < 0.4
    )
    lost = tuple(
        LostHole(row.name, int(chance.integers(row.hole_count(steps))), one_of(None, 0)) for row in rows for _ in "ab"
    )
    step_mm = one_of(3.7, 6.0, 9.0, 15.625)
    edges = {name: one_of(5.0, 4.5, 3.0, 2.2, 0.5) for name in ("lead_edge_mm", "trail_edge_mm")}
    geometry = replace(GEOMETRY, radius_mm=step_mm * plates * steps / (2 * math.pi), **edges)
    return wheel(
        channels,
        plate_count=plates,
        steps_per_plate=steps,
        step_quarters=one_of(Fraction(1, 4), Fraction(1, 3), Fraction(1, 2)),
        rows=rows,
        lost=lost if chance.random() < 0.7 else (),
        strike_limits=limits,
        pin_types=one_of(*strategies.PIN_TYPES),
        geometry=geometry,
        reach_quarters=one_of(Fraction(0), Fraction(1, 16), Fraction(1, 8), Fraction(1, 4)),
    )


def random_song(chance: np.random.Generator) -> tuple[Score, FitOptions]:
    """A few dense quarters, some notes an octave or two away from every channel, and options."""
    resolution, tick = [(4, 1), (12, 1), (24, 2), (96, 1), (96, 8), (480, 40)][chance.integers(6)]
    notes = []
    for _ in range(chance.integers(2, 31)):
        part = int(chance.choice(3, p=[0.6, 0.2, 0.2]))
        pitch = 35 + int(chance.integers(3)) if part == 2 else 60 + int(chance.integers(3))
        pitch += 12 * int(chance.integers(-1, 2)) if part < 2 and chance.random() < 0.2 else 0
        onset = int(chance.integers(0, 3 * resolution // tick)) * tick
        notes.append((onset, pitch, int(chance.integers(1, 128)), part))
    tolerance = int(chance.integers(2)) if resolution >= 12 else 0
    us = [400_000, 500_000, 1_500_000][chance.integers(3)]
    reach = [None, None, Fraction(0), Fraction(1, 12), Fraction(1, 3)][chance.integers(5)]
    options = FitOptions(
        transpose_semitones=12 if chance.random() < 0.1 else 0,
        start_steps=[Fraction(0), Fraction(1), Fraction(7, 2), Fraction(40, 3)][chance.integers(4)],
        reach_quarters=reach,
        fold_octaves=bool(chance.random() < 0.1),
        part_channels=[(), (), (("Melody", "*0"),), (("Bass", "voice [01]"),)][chance.integers(4)],
    )
    made = score(notes, resolution, us, tolerance, strategies.PARTS)
    return made, options


def test_a_note_has_every_hint_that_is_true_of_it_and_no_other() -> None:
    """Ten songs on each wheel: every hole is tried for every silent note, at every start, and at the tempo named."""
    counts = Counter[str]()
    for number in range(cases(8, 30)):
        chance = np.random.default_rng(number)
        on = random_wheel(chance)
        for _ in range(10):
            counts += check_hints(*random_song(chance), on)
    assert set(counts) == {"silent", *KINDS}
    assert min(counts[kind] for kind in KINDS) > cases(20, 100)


def check_hints(song: Score, options: FitOptions, on: Wheel) -> Counter[str]:
    """How many notes were silent, and how many hints of each kind they had."""
    counts = Counter[str]()
    try:
        fit = fit_turn(song, on, options)
    except UsageError:
        return counts
    tried, hints = Tried(song, on, options, fit.placement), hints_by_note(fit)
    assert set(hints) == set(np.flatnonzero(~fit.placement.sounding).tolist())
    for note in tried.silent():
        found = {name: pattern.search(hints[note]) for name, pattern in KINDS.items()}
        assert hints[note] == "; ".join(hint.group() for hint in found.values() if hint)
        for name, check in CHECKS.items():
            check(tried, note, found[name])
        counts += Counter(["silent", *(name for name, hint in found.items() if hint)])
    assert not any(hint for note, hint in hints.items() if fit.placement.sounding[note])
    return counts


def hints_by_note(fit: TurnFit) -> dict[int, str]:
    notes = findings_of(fit).notes
    found = zip(notes.numbers.tolist(), notes, strict=True)
    return {note: finding.hint for note, finding in found if finding.severity == Severity.LOST}


def test_no_hint_asks_for_half_the_tempo_or_less() -> None:
    song, on = crowd()
    _, findings = fit_with_findings(song, on, FitOptions())
    hints = [re.search(r"at ([\d.]+) quarter", finding.hint) for finding in findings]
    tempi = [float(hint.group(1)) for hint in hints if hint]
    assert len(tempi) > 10
    assert min(tempi) >= 60  # the song is at 120


def test_a_tempo_hint_holds_to_the_microsecond() -> None:
    """At every distance in ticks the named tempo is slow enough, and a tenth of a quarter a minute more is not."""
    for ticks in range(1, 30):
        song = score([(0, 60, 90), (ticks, 60, 70)], resolution=96, us_per_quarter=60_000_000 // 127)
        on = wheel([channel("only", [60], restrike_ms=77.7)], reach_quarters=Fraction(0))
        placement, findings = fit_with_findings(song, on, FitOptions())
        hints = [match for finding in findings if (match := re.search(r"at ([\d.]+) quarter", finding.hint))]
        if placement.outcome[1] == Outcome.RESTRIKE and hints:
            tempo = us_per_quarter(Fraction(hints[0].group(1)))
            assert fit_with_findings(song, on, FitOptions(us_per_quarter=tempo))[0].placed_count == 2
            faster = us_per_quarter(Fraction(hints[0].group(1)) + Fraction(1, 10))
            assert fit_with_findings(song, on, FitOptions(us_per_quarter=faster))[0].placed_count == 1
