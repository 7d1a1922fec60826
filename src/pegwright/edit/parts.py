"""Optional edits of parts of a score before it is fitted: parts are left out, or moved by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fnmatch import fnmatchcase

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.score import Score
from pegwright.spelling import moved_spellings
from pegwright.units import listed, nearest_hint, plural

HIGHEST_PITCH = 127


def matching_parts(score: Score, patterns: Sequence[str], option: str) -> tuple[bool, ...]:
    """Whether the name of each part is one of some names, or is of one of some patterns such as `String*`.

    Capital and small letters are the same where no part has the name or pattern as it is written.

    Args:
        score: with the parts.
        patterns: the names and patterns.
        option: that they were given by, for the message.

    Raises:
        UsageError: there is no part of a name or pattern.
    """
    names = [part.written_name for part in score.parts]
    matching = set[str]()
    for pattern in patterns:
        alike = _alike(names, pattern)
        if not alike:
            hint = nearest_hint(pattern.strip("*?"), names, "the score has no parts")
            raise UsageError(f"no part has a name like {pattern!r}", where=f"{score.file}, {option}", hint=hint)
        matching |= alike
    return tuple(name in matching for name in names)


def _alike(names: Sequence[str], pattern: str) -> set[str]:
    """The names that are a name or of a pattern; compared without case if there are none as it is written."""
    for folded in (str, str.casefold):
        wanted = folded(pattern)
        # a name may have brackets, which mean something in a pattern
        if alike := {name for name in names if folded(name) == wanted or fnmatchcase(folded(name), wanted)}:
            return alike
    return set()


def without_parts(score: Score, left_out: Sequence[bool], option: str) -> tuple[Score, tuple[Finding, ...]]:
    """The score without the notes of some parts; its parts keep their names and numbers.

    Args:
        score: the song.
        left_out: for each part whether its notes go.
        option: that asked for it.

    Returns:
        The score, and a finding that names the parts of which notes went.
    """
    counts = np.bincount(score.part, minlength=len(score.parts)).tolist()
    gone = [
        f"{part.name!r} ({plural(count, 'note')})"
        for part, count, out in zip(score.parts, counts, left_out, strict=True)
        if out and count
    ]
    if not gone:
        return score, ()
    kept = ~np.array(left_out, dtype=bool)[score.part]
    many = "part" if len(gone) == 1 else "parts"
    message = f"{many} {listed(gone)} left out, as {option} asks"
    count = score.note_count - int(np.count_nonzero(kept))
    return score.with_notes(kept), (Finding("parts-left-out", Severity.NOTE, score.file, message, count=count),)


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
    moved = [place for place, part in enumerate(score.parts) if name in (part.name, part.of)]
    here = np.isin(score.part, moved)
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
    spelling = moved_spellings(score.spelling, np.where(here, semitones, 0)) if len(score.spelling) else score.spelling
    return replace(score, pitch_midi=frozen_ints(pitch), spelling=spelling), (finding,)
