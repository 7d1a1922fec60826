"""What the benchmarks play does what they say: a figure for players who pause is worth as much as its pauses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"


@pytest.mark.parametrize("seed", range(5))
def test_a_pause_lasts_a_tenth_of_a_second_to_one_and_comes_before_the_next_phrase(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    from performed_data import UNITS, Piece  # a folder of scripts
    from played_renderings import Manner, render

    eighths = Piece("eighths", [(number * UNITS // 2, 0, 60) for number in range(160)])
    played = render(eighths, np.random.default_rng(seed), Manner(0.0, pauses=1.0))
    steps_s = np.diff(played.onset_s)
    usual_s = np.median(steps_s)
    waited_s = steps_s - usual_s
    waits = np.flatnonzero(waited_s > 1e-6)
    assert len(waits) >= 4
    assert 0.1 <= waited_s[waits].min() <= waited_s[waits].max() <= 1.0
    assert set((waits + 1) % 16) == {0} or set((waits + 1) % 24) == {0}
    assert np.delete(steps_s, waits) == pytest.approx(usual_s)
    assert np.interp(played.hole / UNITS, np.arange(len(played.line_s)), played.line_s)[waits + 1] == pytest.approx(
        played.onset_s[waits + 1]
    )


@pytest.mark.parametrize("count", [1, 3])
def test_stops_and_slow_quarters_are_as_many_as_they_are_said_to_be(
    count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    from performed_data import UNITS, Piece  # a folder of scripts
    from played_renderings import Manner, render

    quarters = Piece("quarters", [(number * UNITS, 0, 60) for number in range(80)])
    steps_s = np.diff(render(quarters, np.random.default_rng(1), Manner(0.0, stops=count)).onset_s)
    waited_s = steps_s - np.median(steps_s)
    waits = np.flatnonzero(waited_s > 1e-6)
    assert len(waits) == count
    assert 0.2 <= waited_s[waits].min() <= waited_s[waits].max() <= 1.0
    assert set((waits + 1) % 4) == {0}
    steps_s = np.diff(render(quarters, np.random.default_rng(1), Manner(0.0, holds=count)).onset_s)
    shares = steps_s / np.median(steps_s)
    assert sorted(np.round(shares[shares > 1.001], 3).tolist()) == [1.08] * count + [1.15] * count + [1.3] * count
