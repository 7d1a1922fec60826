"""What looks like a strong beat: new harmonies and the lowest notes about weigh more than the rest."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from pegwright.played.struck import StruckNotes, struck_by
from played.test_free_beat import notes_at

TRIADS = ((60, 64, 67), (65, 69, 72), (67, 71, 74), (62, 65, 69))


def broken(chords: int, notes: int, lowest: int | None = None) -> StruckNotes:
    """Triads whose notes are struck one after another; in place of one note of each a bass, if that is given."""
    pitch = np.array([TRIADS[chord % 4][note % 3] for chord in range(chords) for note in range(notes)])
    if lowest is not None:
        pitch[::notes] = lowest
    return notes_at(np.arange(len(pitch)) * 0.2, pitch)


def by_place(weight: NDArray[np.float64], notes: int) -> NDArray[np.float64]:
    """Mean weight of the first, second … note of a chord; the first and last chords see no other."""
    means: NDArray[np.float64] = weight[notes:-notes].reshape(-1, notes).mean(axis=0)
    return means


def test_the_first_note_of_a_new_harmony_weighs_most() -> None:
    notes = 6
    weight = by_place(struck_by(broken(12, notes)).weight, notes)
    assert int(weight.argmax()) == 0


def test_the_lowest_note_about_weighs_most() -> None:
    notes = 6
    weight = by_place(struck_by(broken(12, notes, lowest=45)).weight, notes)
    assert int(weight.argmax()) == 0
    assert weight[0] > weight[1:].max() + 0.3


@pytest.mark.parametrize("count", [1, 2, 5, 40])
def test_drums_have_neither_harmony_nor_bass(count: int) -> None:
    """All their pitches are 0; any number of clusters has finite weights."""
    weight = struck_by(notes_at(np.arange(count) * 0.3, np.zeros(count, dtype=np.int64))).weight
    assert np.isfinite(weight).all()
    assert len(weight) == count
