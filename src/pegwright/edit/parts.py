"""Optional edits of single parts of a score before it is fitted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.score import Score
from pegwright.units import nearest_hint, plural

HIGHEST_PITCH = 127


def move_part(score: Score, name: str, semitones: int) -> tuple[Score, tuple[Finding, ...]]:
    """Transpose one part and leave the others.

    Args:
        score: the song.
        name: of a part that is not percussion.
        semitones: up, or down if negative.

    Returns:
        The score, its notes in the same order, and a finding on the move.

    Raises:
        UsageError: there is no such part, it is percussion, or a pitch would leave MIDI's range.
    """
    names = [part.name for part in score.parts]
    if name not in names:
        hint = nearest_hint(name, names, "the score has no parts")
        raise UsageError(f"the score has no part {name!r}", where=score.file, hint=hint)
    number = names.index(name)
    if score.parts[number].percussion:
        raise UsageError(
            f"part {name!r} is percussion, which has no pitch to move",
            where=score.file,
            hint="sound one key as another instead",
        )
    here = score.part == number
    pitch = score.pitch_midi + np.where(here, semitones, 0)
    if len(pitch) and not 0 <= int(pitch.min()) <= int(pitch.max()) <= HIGHEST_PITCH:
        seen = int(pitch.max()) if pitch.max() > HIGHEST_PITCH else int(pitch.min())
        raise UsageError(
            f"part {name!r} moved {semitones} semitones reaches pitch {seen}",
            where=score.file,
            hint=f"MIDI pitches go from 0 to {HIGHEST_PITCH}",
        )
    count = int(np.count_nonzero(here))
    way = "higher" if semitones > 0 else "lower"
    finding = Finding(
        "part-moved",
        Severity.CHANGED,
        f"{score.file}:{name}",
        f"{plural(count, 'note')} moved {plural(abs(semitones), 'semitone')} {way}",
        count=count,
    )
    return replace(score, pitch_midi=frozen_ints(pitch)), (finding,)
