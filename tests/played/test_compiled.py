"""Compiled functions do what their source says, and what is kept of them on disk follows the source."""

from __future__ import annotations

import os
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple, cast

import numpy as np
import pytest
from numba import njit

from pegwright.columns import Floats
from pegwright.played import bar_search, compiled, free_beat, one_way, settled
from pegwright.played.bar_laws import MOVING
from pegwright.played.bar_places import metre_of
from pegwright.played.free_beat import FreeBeat, Tempo
from pegwright.played.model import PLACES
from pegwright.played.struck import StruckNotes, struck_by


class Columns(NamedTuple):
    """Two arrays."""

    left: Floats
    right: Floats


def rough_tune(seed: int) -> StruckNotes:
    """Eighths, quarters and triplets in chords of one to three, with a melody that comes back and a pause."""
    rng = np.random.default_rng(seed)
    steps = np.tile([0.5, 0.5, 1.0, 1 / 3, 1 / 3, 1 / 3, 1.0], 6)
    at_s = np.append(0.0, np.cumsum(steps)) * 0.5
    at_s[20:] += 0.7
    melody = 60 + np.tile([0, 4, 7, 5, 4, 2, 0], 7)[: len(at_s)]
    count = rng.integers(1, 4, len(at_s))
    onset_s = np.sort(np.repeat(at_s, count) + rng.normal(0, 0.006, int(count.sum())))
    pitch = np.repeat(melody, count) - 12 * (np.arange(len(onset_s)) % 3)
    notes = np.arange(len(onset_s))
    return StruckNotes(onset_s, notes, pitch, 64 + notes % 20, np.full(len(onset_s), 0.4))


def followed(seed: int) -> tuple[FreeBeat, Floats]:
    """The beat, and how sure it is from both ends."""
    struck = struck_by(rough_tune(seed))
    beat = free_beat.free_beat(PLACES, struck, Tempo(0.5, 0.0, trusted=True), metre_of("4/4", Fraction(0)), MOVING)
    whole = settled.settled(PLACES, struck, beat)
    return whole.beat, whole.doubts.sure()


@pytest.mark.parametrize("seed", [1, 2])
def test_compiled_or_not_the_search_finds_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    beat, sure = followed(seed)
    names = 0
    for room in [module for name, module in sys.modules.items() if name.startswith("pegwright.played.")]:
        for name, value in list(vars(room).items()):
            if hasattr(value, "py_func"):
                monkeypatch.setattr(room, name, value.py_func)
                names += 1
    assert names > 20, "else nothing was replaced"
    plain, plain_sure = followed(seed)
    assert plain.hole_quarters.tolist() == beat.hole_quarters.tolist()
    assert np.abs(plain_sure - sure).max() < 0.03
    assert plain.fit == pytest.approx(beat.fit, abs=1e-3)  # counts have single precision


def test_where_nothing_may_be_written_functions_are_compiled_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_place(*, cache: bool = False, **options: object) -> object:
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return cast(Any, njit)(**options)

    monkeypatch.setattr(f"{compiled.__name__}.njit", no_place)

    def double(value: int) -> int:
        return 2 * value

    assert compiled.compiled(double)(21) == 42
    assert compiled.compiled_in_place(double)(21) == 42


def test_without_counts_no_reference_is_counted() -> None:
    def product(columns: Columns) -> float:
        total = 0.0
        for index in range(len(columns.left)):
            total += columns.left[index] * columns.right[index]
        return total

    in_place: Any = njit(**compiled.NO_COUNTS)(product)
    assert in_place(Columns(np.arange(4.0), np.arange(4.0))) == 14
    assert not any("NRT_incref" in code for code in in_place.inspect_llvm().values())


def test_the_search_counts_no_references_to_the_arrays_that_it_reads() -> None:
    for function in (bar_search._look_on, bar_search.judge, bar_search._keep, one_way._along):
        options = vars(function)["targetoptions"]
        assert compiled.NO_COUNTS.items() <= options.items(), function


def test_code_that_was_kept_before_a_source_changed_is_forgotten(tmp_path: Path) -> None:
    kept = tmp_path / "__pycache__"
    kept.mkdir()
    older, newer = kept / "older.nbi", kept / "newer.nbi"
    for at_s, path in enumerate((older, tmp_path / "source.py", newer)):
        path.write_text("")
        os.utime(path, (at_s, at_s))
    compiled._forget_changed(tmp_path)
    assert not older.exists()
    assert newer.exists()
