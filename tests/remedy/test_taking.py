"""A remedy that is taken does what was computed for it, on top of the options given before."""

from __future__ import annotations

import pytest

import thorough
from pegwright.ask.options import FitOptions, SearchRange
from pegwright.ask.request import PLAIN, Request
from pegwright.bundled import bundled_songs, bundled_wheel
from pegwright.config import load_wheel
from pegwright.remedy.changes import move_octaves
from pegwright.remedy.song_remedies import shortfall_of
from pegwright.remedy.taking import taken
from pegwright.song_pipeline.fitting import fit_file, remedies_for

WHEEL = load_wheel(bundled_wheel())
TROUBLED = {"the-committee-regrets.musicxml", "low-water-slowly.mid"}
REQUESTS = {
    "no options": PLAIN,
    "a part moved already": Request(part_semitones=(("Bass", -12),)),
    "a search": Request(search=SearchRange(every_steps=4), whole_bars=True),
    "another tempo": Request(options=FitOptions(us_per_quarter=400_000, transpose_semitones=-3), skip_silence=True),
}


@pytest.mark.parametrize("name", REQUESTS)
def test_every_remedy_that_is_taken_has_the_shortfall_that_was_computed(name: str) -> None:
    request, tried = REQUESTS[name], 0
    for path in sorted(bundled_songs(), key=lambda path: path.name not in TROUBLED)[: thorough.cases(2, 99)]:
        parts = {part.name for part in fit_file(path, WHEEL).score.parts}
        if not {part for part, _ in request.part_semitones} <= parts:
            continue
        fitted = fit_file(path, WHEEL, request)
        for remedy in remedies_for(fitted)[0].song:
            again = fit_file(path, WHEEL, taken(request, fitted.options, remedy.changes))
            seen = shortfall_of([turn.score for turn in again.turns], again.placements)
            expected = remedy.shortfall
            assert (seen.silent, seen.audible, seen.moved) == (expected.silent, expected.audible, expected.moved), path
            tried += 1
    assert tried


def test_a_part_that_was_moved_is_moved_by_both_and_not_at_all_where_they_cancel() -> None:
    fitted = fit_file(bundled_songs()[0], WHEEL)
    part = fitted.score.parts[0].name

    up = [move_octaves(part, 1)]
    for before, after in ((12, ((part, 24),)), (-12, ()), (-24, ((part, -12),))):
        request = Request(part_semitones=((part, before),))
        assert taken(request, fitted.options, up).part_semitones == after
