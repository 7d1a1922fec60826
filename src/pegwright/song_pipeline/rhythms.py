"""Other rhythms tried on a song as it is read: each is taken as its note edits, and fitted."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TypeAlias

from pegwright.errors import UsageError
from pegwright.placement import Placement
from pegwright.read import score_of
from pegwright.remedy.budget import Budget, WorkOf
from pegwright.remedy.rhythms import BarRhythm, Rhythm, RhythmRemedy, rhythms_to_try
from pegwright.remedy.taking import taken
from pegwright.score import Score
from pegwright.search.fits import SongFits
from pegwright.song import FittedSong
from pegwright.song_pipeline.editing import edit_score

MAX_TRIED = 20  # rhythms, each of all bars that need the same
PER_RHYTHMS = 5  # rhythms listed
Fitted: TypeAlias = list[tuple[Score, Placement]]  # each turn and its placement


def rhythm_remedies(song: FittedSong, budget: Budget) -> tuple[tuple[RhythmRemedy, ...], int]:
    """Other rhythms that help a song, each tried, those that bring the most notes first; and how many were tried.

    Args:
        song: as it was fitted.
        budget: the work that may be done.
    """
    tried = list(_tried(song, budget))
    return tuple(sorted(filter(None, tried), key=_rank))[:PER_RHYTHMS], len(tried)


def _rank(remedy: RhythmRemedy) -> tuple[int, float]:
    return -remedy.sounding, remedy.rhythm.harm


def _tried(song: FittedSong, budget: Budget) -> Iterator[RhythmRemedy | None]:
    """Each rhythm that was tried; None for one that does not do what it says, or is no better than what sounds now."""
    request, scores = song.request, [turn.score for turn in song.turns]
    if request.played or request.swing or request.ornaments or song.score.bar_map.swing:
        return  # beats of the song are not those of the score, in which notes are edited
    rhythms = rhythms_to_try(
        scores, song.wheel, song.options, song.placements, semitones=dict(request.part_semitones), budget=budget
    )
    if not rhythms:
        return
    whole, _ = score_of(song.edited.data, Path(song.edited.path))
    work = WorkOf(scores, song.wheel, song.options, song.placements[0].us_per_quarter).fit
    for rhythm in rhythms[:MAX_TRIED]:
        if not budget.take(work):
            return
        yield _judged(song, rhythm, _with(song, whole, rhythm))


def _judged(song: FittedSong, rhythm: Rhythm, fitted: Fitted) -> RhythmRemedy | None:
    """A rhythm as a remedy; None where it does not do what it says, or is no better than what sounds now.

    Args:
        song: as it was fitted.
        rhythm: that was tried.
        fitted: the song with it.
    """
    if not fitted or not all(_is_done(each, *fitted[each.bar.turn]) for each in rhythm.bars):
        return None
    sounding = sum(placement.sounding_count for _, placement in fitted)
    if sounding < song.sounding_count or (sounding == song.sounding_count and rhythm.silent):
        return None
    return RhythmRemedy(rhythm, sounding, sum(placement.left_out_count for _, placement in fitted))


def _with(song: FittedSong, whole: Score, rhythm: Rhythm) -> Fitted:
    """The song with a rhythm; nothing where its notes cannot be named.

    Args:
        song: as it was fitted.
        whole: its score as it is read.
        rhythm: to be taken.
    """
    from pegwright.song_pipeline.fitting import song_fits  # noqa: PLC0415  # that module loads this one where asked for

    request, options = taken(song.request, song.options, [rhythm.change]), song.options
    try:
        fits: SongFits = song_fits(edit_score(whole, song.wheel, request), song.wheel)
        placements = fits.placements(options.transpose_semitones, options.start_steps)
    except UsageError:  # such as a note that another note edit has moved already
        return []
    return list(zip(fits.turns, placements, strict=True))


def _is_done(rhythm: BarRhythm, score: Score, placement: Placement) -> bool:
    """Whether every note of a bar sounds where the rhythm puts it.

    Args:
        rhythm: of the bar.
        score: the turn with it.
        placement: of its notes.
    """
    bar, per_quarter = rhythm.bar, rhythm.bar.problem.resolution
    exact = placement.sounding & (placement.deviation_ms[placement.sounded_by] == 0)
    there = {
        (Fraction(onset, score.resolution), part, pitch)
        for onset, part, pitch in zip(
            *(column[exact].tolist() for column in (score.onset_ticks, score.part, score.pitch_midi)), strict=True
        )
    }
    return all(
        (Fraction(place, per_quarter), int(bar.score.part[note]), int(bar.score.pitch_midi[note])) in there
        for onset, place in enumerate(rhythm.places)
        for note in bar.notes_at(onset).tolist()
    )
