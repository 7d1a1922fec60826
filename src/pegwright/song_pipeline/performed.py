"""A song played by hand is put on the holes that were meant, before any other change is made to it."""

from __future__ import annotations

import numpy as np

from pegwright.ask.request import Beat, Played
from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of, tapped_beats
from pegwright.played.findings import beyond_beats
from pegwright.played.model import wheel_places
from pegwright.played.on_grid import score_on_grid
from pegwright.played.quantise import quantise_performed
from pegwright.read.beats import read_beats
from pegwright.score import Score
from pegwright.wheel import Wheel

MAX_QUARTERS_PER_MINUTE = 1000  # of a song played by hand
MAX_QUARTER_S = 3600.0  # of a song played by hand; the longest that a MIDI tempo can say is 16.8 s


def put_on_grid(score: Score, wheel: Wheel, played: Played) -> tuple[Score, tuple[Finding, ...]]:
    """Put the onsets of a song played by hand where they were meant.

    Args:
        score: as it was played.
        wheel: whose holes they are put on.
        played: how it was played.

    Returns:
        The song; what was found.

    Raises:
        InputError: a file of beats cannot be read.
        UsageError: there is no such part of taps, or the beats are too fast to be played.
    """
    beats = None
    if played.beats_file is not None:
        beats = read_beats(played.beats_file)
    elif played.tapped_part is not None:
        score, beats = tapped_beats(score, played.tapped_part)
    _check_pace(score, beats_of_tempo_map(score) if beats is None else beats, played)
    result, findings = quantise_performed(score, beats, played.beat, wheel_places(wheel))
    beyond = () if beats is None else beyond_beats(score, beats)
    return score_on_grid(score, result), (*beyond, *findings)


def _check_pace(score: Score, beats: BeatTrack, played: Played) -> None:
    """Refuse beats too fast to be played, before they make the song too long for memory, and beats without end."""
    if not score.note_count or played.beat is Beat.FIND:
        return
    slowest_s = float(beats.quarter_s_at(seconds_of(score, score.onset_ticks)).max())
    if slowest_s > MAX_QUARTER_S:
        raise UsageError(
            f"by these beats a quarter note of the song lasts {slowest_s:.3g} s, more than {MAX_QUARTER_S:,.0f} s",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, one for each quarter note",
        )
    seconds = seconds_of(score, frozen_ints([score.onset_ticks.min(), score.onset_ticks.max()]))
    lasts_s, quarters = float(np.ptp(seconds)), float(np.ptp(beats.quarters_at(seconds)))
    if quarters > 1 and quarters * 60 > MAX_QUARTERS_PER_MINUTE * lasts_s:
        pace = quarters * 60 / lasts_s if lasts_s else np.inf
        pace_text = f"{pace:,.0f}" if pace < 1e15 else f"{pace:.0e}"
        raise UsageError(
            f"by these beats the song is played at {pace_text} quarter notes a minute, "
            f"above {MAX_QUARTERS_PER_MINUTE:,}",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, or let them be found: --beats find",
        )
