"""The table of the best ways that a search found."""

from __future__ import annotations

from dataclasses import replace

import pytest

import samples
from pegwright.ask.options import FitOptions, SearchRange
from pegwright.search.best import Best, find_best
from pegwright.search.fits import SongFits
from pegwright.write.report.search import search_text

SONG = samples.score([(0, 60), (0, 59), (6, 60), (7, 60), (8, 60), (48, 90), (200, 72), (5000, 72)])
HEADS = 3  # lines before the first way


@pytest.fixture(scope="module")
def best() -> Best:
    return find_best(SongFits((SONG,), samples.wheel(), FitOptions()), SearchRange(semitones=3), count=3)


def test_the_best_is_called_proved_only_if_it_is(best: Best) -> None:
    assert best.gap is None
    assert search_text(best).startswith("Compared 7 transpositions x 1 start; the best, proved:\n")
    unproved = search_text(replace(best, gap=128))
    assert unproved.startswith("Compared 7 transpositions x 1 start; the best found, not proved:\n")


def test_reasons_of_a_line_add_up_to_the_notes_left_out(best: Best) -> None:
    lines = search_text(best).splitlines()[HEADS:]
    assert len(lines) == len(best.ranked)
    assert max(map(len, lines)) <= 100
    for found, line in zip(best.ranked, lines, strict=True):
        semitones, start, equal, _more, notes_in, _moved, _audibly, left_out, because = line.split(maxsplit=8)
        assert int(semitones) == found.choice.transpose_semitones
        assert (int(start), int(equal)) == (1, 0)
        assert int(notes_in) + int(left_out) == SONG.note_count
        assert sum(int(words.split()[0]) for words in because.split(", ")) == int(left_out)
