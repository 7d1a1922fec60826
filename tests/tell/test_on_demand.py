"""A report makes the sentences that it shows and no others; what it counts it counts without them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from crowded import crowd
from pegwright.ask.options import FitOptions
from pegwright.columns import BATCH, Ints, JoinedSequence, OnDemand
from pegwright.findings import Finding
from pegwright.fit.placing import fit_turn
from pegwright.placement import Outcome
from pegwright.song import FittedSong
from pegwright.tell.findings import FitFindings, findings_of
from pegwright.tell.report import report_on
from pegwright.write.report.json import report_json, report_json_pieces
from pegwright.write.report.text import LISTED, report_text
from placed import song_of


@pytest.fixture
def counted() -> tuple[FittedSong, list[int]]:
    """A song of which 1,500 notes are left out, and a list that is given the number of each note put in words."""
    song, on = crowd(2_000)
    fit = fit_turn(song, on, FitOptions())
    whole, made = findings_of(fit), list[int]()

    def make(notes: Ints) -> list[Finding]:
        made.extend(notes.tolist())
        return list(whole.notes.make(notes))

    watched = FitFindings(whole.whole, OnDemand(whole.notes.numbers, make), whole.flams, whole.folded)
    report = report_on(song, on, [(song, fit.placement, watched)])
    return replace(song_of(song, on, fit.placement), report=report), made


def test_the_text_makes_what_it_shows(counted: tuple[FittedSong, list[int]]) -> None:
    song, made = counted
    assert len(song.report.left_out) + len(song.report.moved) > 1_000
    assert made == []
    report_text(song)
    reasons, levels = len(Outcome) + 1, 2
    assert 0 < len(made) <= LISTED * (reasons + levels)


def test_the_json_is_written_as_it_is_made(counted: tuple[FittedSong, list[int]]) -> None:
    song, made = counted
    pieces: Iterator[bytes] = report_json_pieces(song)
    first, after_the_first = next(pieces), len(made)
    rest = list(pieces)
    assert 0 < after_the_first < len(made) / 2
    assert len(rest) > 2
    document = json.loads(b"".join([first, *rest]))
    assert len(made) == sum(len(document[name]) for name in ("left_out", "shared", "moved"))
    assert [note["note"] for note in document["left_out"]] == [note.number for note in song.report.left_out]
    assert b"".join([first, *rest]) == report_json(song)


def test_a_sequence_on_demand_makes_some_items_together_and_keeps_none() -> None:
    made: list[list[int]] = []

    def make(numbers: Ints) -> list[int]:
        made.append(numbers.tolist())
        return [2 * number for number in numbers.tolist()]

    doubled = OnDemand(np.arange(10, 10 + BATCH + 1), make)
    assert list(doubled) == [2 * number for number in range(10, 10 + BATCH + 1)]
    assert [len(batch) for batch in made] == [BATCH, 1]
    made.clear()
    assert (doubled[-1], doubled[0], list(doubled[1:3]), doubled[0]) == (2 * (10 + BATCH), 20, [22, 24], 20)
    assert made == [[10 + BATCH], [10], [11, 12], [10]]
    assert 20 in doubled
    with pytest.raises(IndexError):
        doubled[BATCH + 1]


def test_joined_sequences_are_one() -> None:
    joined = JoinedSequence[int]([(1, 2), [], OnDemand(np.arange(3), lambda numbers: numbers.tolist())])
    assert [*joined] == [joined[place] for place in range(len(joined))] == [1, 2, 0, 1, 2]
    assert (joined[-1], joined[-5], joined[1:4]) == (2, 1, (2, 0, 1))
    assert [*JoinedSequence[int]([])] == []
    with pytest.raises(IndexError):
        joined[5]
