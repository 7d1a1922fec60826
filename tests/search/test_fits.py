"""Turns of equal notes share one fit, and each reports its own bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import musicxml_text as xml
from commands import WHEEL
from pegwright.ask.options import FitOptions
from pegwright.ask.request import PLAIN
from pegwright.check.verify import verify_turns
from pegwright.config import load_wheel
from pegwright.fit import placing
from pegwright.fit.placing import TurnFit
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.search import fits
from pegwright.song import FittedSong
from pegwright.song_pipeline import fitting
from pegwright.wheel import Wheel

BARS = 12  # in 4/4, a turn of the wheel of 48 quarters
ROUNDS = 5
OFF_WHEEL = "C0"  # no channel sounds it


@pytest.fixture
def counts(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """How often a turn was fitted, and how often verified."""
    done = {"fit": 0, "verify": 0}

    def counted_fit(turns: Sequence[Score], wheel: Wheel, options: FitOptions) -> list[TurnFit]:
        done["fit"] += len(turns)
        return placing.fit_turns(turns, wheel, options)

    def counted_verify(turns: Sequence[tuple[Score, Placement]], wheel: Wheel) -> tuple[str, ...]:
        done["verify"] += len(turns)
        return verify_turns(turns, wheel)

    monkeypatch.setattr(fits, "fit_turns", counted_fit)
    monkeypatch.setattr(fitting, "verify_turns", counted_verify)
    return done


def fitted(folder: Path, last: str = "E4") -> FittedSong:
    """A turn whose first note is left out, played five times, and a turn that differs in its last note."""
    names = [OFF_WHEEL, *["G4"] * (BARS - 1)]
    bars = xml.bars_of_quarters([*names, *names[:-1], last], {BARS: xml.repeat("backward", f' times="{ROUNDS}"')})
    path = folder / "song.musicxml"
    path.write_bytes(xml.score(bars))
    return fitting.fit_file(path, load_wheel(WHEEL))


def test_turns_of_equal_notes_are_fitted_and_verified_once(tmp_path: Path, counts: dict[str, int]) -> None:
    song = fitted(tmp_path)
    assert len(song.turns) == ROUNDS + 1
    assert counts == {"fit": 2, "verify": 2}
    assert len({id(turn.placement) for turn in song.turns}) == 2
    for turn in song.turns:
        alone = placing.fit_turn(turn.score, song.wheel, replace(song.options, us_per_quarter=500_000)).placement
        for column in ("outcome", "channel", "row", "index", "pin_type", "deviation_ticks"):
            assert np.array_equal(getattr(turn.placement, column), getattr(alone, column))


def test_each_turn_reports_its_own_bars(tmp_path: Path) -> None:
    song = fitted(tmp_path)
    lost = [next(one for one in turn.findings.notes).where for turn in song.turns]
    times = ["bar 1 ", "bar 1, 2nd time", "bar 1, 3rd time", "bar 1, 4th time", "bar 1, 5th time", "bar 13 "]
    assert [name in where for name, where in zip(times, lost, strict=True)] == [True] * len(times), lost


def test_a_turn_that_differs_in_anything_that_a_fit_reads_is_fitted_itself(
    tmp_path: Path, counts: dict[str, int]
) -> None:
    fitted(tmp_path, last="G4")
    assert counts["fit"] == 1
    turn = fitted(tmp_path).turns[0].score
    wheel = load_wheel(WHEEL)
    for column in ("duration_ticks", "pitch_midi", "velocity"):
        values = getattr(turn, column).copy()
        values[0] += 1
        other = replace(turn, **{column: values})
        song = fits.SongFits((turn, other, turn), wheel, PLAIN.options)
        counts["fit"] = 0
        song.at(0, song.options.start_steps)
        assert counts["fit"] == 2, column
