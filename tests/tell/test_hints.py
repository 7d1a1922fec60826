"""What a hint promises of a note is true when it is tried."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
from crowded import crowd
from golden_cases import GoldenCase, load, paths
from pegwright.ask.options import FitOptions
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.placement import Outcome
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.units import us_per_quarter
from pegwright.wheel import Wheel
from samples import channel, score, wheel


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
    made, hint = retried("11-off-the-grid", r"a reach of ([\d/]+) quarter notes")
    assert left_out_with(made, replace(made.options, reach_quarters=Fraction(hint.group(1)))) == 0


def test_folding_gives_the_note_the_channel_that_was_named() -> None:
    made, hint = retried("12-no-channel", r"1 octave lower, on channel (\w+)")
    placement, _ = fit_with_findings(made.score, made.wheel, replace(made.options, fold_octaves=True))
    assert made.wheel.channels[int(placement.channel[0])].name == hint.group(1)
    assert placement.outcome[0] == Outcome.PLACED


def alone(song: Score, note: int) -> Score:
    """The score with one note only."""
    columns = ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part")
    return replace(song, **{name: getattr(song, name)[note : note + 1] for name in columns})


def check_start_hint(song: Score, on: Wheel, options: FitOptions, finding: Finding, note: int) -> None:
    hint = re.fullmatch(r"starting (\d+) steps? (later|earlier) on the turn gives it a hole", finding.hint)
    steps = range(1, on.turn_steps // 2 + 1)
    single = alone(song, note)

    def saved(by: int) -> bool:
        placement, _ = fit_with_findings(single, on, replace(options, start_steps=options.start_steps + by))
        return placement.placed_count == 1

    if hint:
        by = int(hint.group(1)) * (1 if hint.group(2) == "later" else -1)
        assert saved(by)
    else:
        assert finding.hint == ""
        if options.reach_quarters == 0:
            assert not any(saved(by) or saved(-by) for by in steps)


@settings(max_examples=60)
@given(strategies.scores(most=8), strategies.wheels(), strategies.options(), st.data())
def test_start_hints_hold_for_any_wheel(song: Score, on: Wheel, options: FitOptions, data: st.DataObject) -> None:
    options = replace(options, reach_quarters=data.draw(st.sampled_from([Fraction(0), None])))
    try:
        placement, findings = fit_with_findings(song, on, options)
    except UsageError:
        return
    lost = [finding for finding in findings if finding.code == "left-out-lost-at-seam"]
    notes = [note for note in range(song.note_count) if placement.outcome[note] == Outcome.LOST_AT_SEAM]
    assert len(lost) == len(notes)
    for finding, note in zip(lost, notes, strict=True):
        check_start_hint(song, on, options, finding, note)


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
