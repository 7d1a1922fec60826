"""One answer: the search of a song, a survey and a song set choose the same transposition and start, over all turns."""

from __future__ import annotations

from pathlib import Path

import pytest

from commands import SONGS, WHEEL
from pegwright.ask.options import SearchRange
from pegwright.ask.request import Request
from pegwright.config import load_wheel
from pegwright.config.one_song import SetSong
from pegwright.search.best import find_best
from pegwright.show.swap import exchangeable
from pegwright.show_pipeline.songs import fit_at, ready_song
from pegwright.song_pipeline.editing import edit_song
from pegwright.song_pipeline.fitting import song_fits
from pegwright.verdict.judge import judge
from places import SCORES
from thorough import cases

BUNDLED = sorted(path for path in SONGS.iterdir() if path.suffix in {".mid", ".mxl", ".musicxml"})
SHARED = [path for path in SCORES.glob("[0-9]*") if path.suffix in {".mid", ".mxl", ".xml"}]
LONG = [path for path in SHARED if "maple-leaf" in path.name or "solace" in path.name or "fur-elise" in path.name]
PIECES = [*BUNDLED, *sorted({*SHARED[:: cases(9, 1)], *LONG})]
ANYWHERE = Request(search=SearchRange(semitones=12, every_steps=1))


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.name)
def test_search_survey_and_set_give_one_answer(path: Path) -> None:
    wheel = load_wheel(WHEEL)
    edited = edit_song(path, wheel, ANYWHERE)
    assert ANYWHERE.search
    listed = find_best(song_fits(edited, wheel), ANYWHERE.search).ranked[0]
    choice = listed.choice
    verdict = judge(edited.score, wheel, 12)
    assert (verdict.transpose_semitones, verdict.start_steps) == (choice.transpose_semitones, choice.start_steps)
    assert sum(placement.placed_count for placement in listed.placements) == verdict.at_best.count.own_pin
    song = ready_song(SetSong(path, ANYWHERE), wheel, exchangeable(wheel, ()))
    assert song.transpose_semitones == choice.transpose_semitones
    assert {int(start) for start in song.starts} <= set(listed.equal_starts)
    for start in song.starts[:: max(1, len(song.starts) - 1)]:
        placed = fit_at(song, start).placements
        assert sum(placement.weight for placement in placed) == choice.weight
        assert sum(placement.cost_ticks for placement in placed) == choice.cost_ticks
