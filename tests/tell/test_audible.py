"""How audible a move is, at the published limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_floats
from pegwright.placement import Placement
from pegwright.tell.audible import (
    FLAM_RISK_MS,
    NOT_PLACED,
    Audibility,
    audibility,
    flam_spread_ms,
    inter_onset_ms,
    slight_limit_ms,
    unheard_limit_ms,
)
from pegwright.tell.findings import fit_with_findings
from samples import score, wheel


@pytest.mark.parametrize(("ioi_ms", "limit_ms"), [(125, 6), (240, 6), (400, 10), (500, 12.5), (1000, 25)])
def test_unheard_limit(ioi_ms: float, limit_ms: float) -> None:
    """Friberg and Sundberg 1995, JASA 98(5): 6 ms below about 240 ms, 2.5 % above (worked by arithmetic)."""
    assert unheard_limit_ms(np.array([float(ioi_ms)])) == pytest.approx([limit_ms])


@pytest.mark.parametrize(("ioi_ms", "limit_ms"), [(125, 10), (239, 10), (240, 12), (400, 20), (1000, 50)])
def test_slight_limit(ioi_ms: float, limit_ms: float) -> None:
    """Friberg and Sundberg 1992, STL-QPSR 33(4): about 10 ms below 240 ms, about 5 % above."""
    assert slight_limit_ms(np.array([float(ioi_ms)])) == pytest.approx([limit_ms])


def test_interval_is_to_the_nearest_other_onset_of_the_same_part() -> None:
    song = score([(0, 60, 80, 0), (0, 64, 80, 0), (12, 62, 80, 0), (36, 60, 80, 0), (13, 38, 80, 1), (600, 60, 80, 0)])
    # ticks of 20.83 ms; the drum stroke at 13 is another part, alone in it; the last note has a long wait
    expected = [250.0, 250.0, 250.0, 1000.0, 500.0, 1000.0]
    assert inter_onset_ms(song, 500_000).tolist() == pytest.approx(expected)
    assert inter_onset_ms(song, 250_000).tolist()[:2] == pytest.approx([125.0, 125.0])
    assert inter_onset_ms(score([]), 500_000).tolist() == []


def placed(deviation_ms: list[float], onsets: list[int]) -> tuple[Audibility | int, ...]:
    song = score([(onset, 60 + place % 12) for place, onset in enumerate(onsets)], resolution=480)
    made, _ = fit_with_findings(song, wheel(), FitOptions())
    levels = audibility(song, replace(made, deviation_ms=frozen_floats(deviation_ms)))
    return tuple(levels.tolist())


def test_levels_for_sixteenths_and_for_quarters() -> None:
    sixteenths = [120 * place for place in range(8)]  # 125 ms apart at 120 quarters a minute
    moves = [0.0, 6.0, -6.1, 10.0, 10.1, -31.25, 5.9, 0.0]
    assert placed(moves, sixteenths) == (0, 1, 2, 2, 3, 3, 1, 0)
    quarters = [480 * place for place in range(6)]  # 500 ms
    assert placed([0.0, -12.5, 12.6, 25.0, 25.1, 20.83], quarters) == (0, 1, 2, 2, 3, 2)


def test_notes_left_out_have_no_level() -> None:
    song = score([(0, 60), (6, 30)])
    made, _ = fit_with_findings(song, wheel(), FitOptions())
    assert audibility(song, made).tolist() == [Audibility.EXACT, NOT_PLACED]
    assert [level.words for level in Audibility] == ["exact", "unheard", "slight", "audible"]


def test_flam_risk_is_told_where_notes_meant_together_come_apart() -> None:
    """The 20 ms is Hirsh 1959's order threshold: no flam threshold is published."""
    song = score([(6, 60), (6, 62), (12, 60), (12, 64)])
    made, findings = fit_with_findings(song, wheel(), FitOptions())
    assert not findings
    moved: Placement = replace(made, deviation_ms=frozen_floats([0.0, 20.0, 5.0, -5.0]))
    onset, spread_ms = flam_spread_ms(song, moved)
    assert (onset.tolist(), spread_ms.tolist()) == ([6, 12], [FLAM_RISK_MS, 10.0])
    empty = score([(0, 30)])
    assert [len(column) for column in flam_spread_ms(empty, fit_with_findings(empty, wheel(), FitOptions())[0])] == [
        0,
        0,
    ]


def test_flam_risk_is_a_finding() -> None:
    from pegwright.wheel import Row
    from samples import channel

    rows = [Row("on", wheel().rows[0].phases), Row("half", wheel().rows[1].phases)]
    on = wheel([channel("both", [60], rows=["on", "half"]), channel("plain", [62], rows=["on"])], rows=tuple(rows))
    song = score([(2, 60), (2, 62)])  # 62 has no half hole to go to and is out of reach of the step
    _, findings = fit_with_findings(song, on, FitOptions(reach_quarters=wheel().step_quarters / 2))
    flams = [finding for finding in findings if finding.code == "flam-risk"]
    assert [finding.message for finding in flams] == ["notes meant together on different channels come 62.5 ms apart"]
    assert flams[0].where == "test.mid:Melody:bar 1 beat 1 1/12"
