"""The place of a finding, in the words of a sentence."""

from __future__ import annotations

from pegwright.score import Score
from pegwright.write.tables import one_line

NAME_CELLS = 40


def place_words(where: str, score: Score) -> str:
    """The place of a finding as a sentence has it, such as `'Melody' bar 14 beat 2.5`; empty for the whole song.

    Args:
        where: the place as the finding gives it, `waltz.mid:Melody:bar 14 beat 2.5`.
        score: the song; its parts are looked for by name, for a name can have colons of its own.
    """
    place = "" if where == score.file else where.removeprefix(f"{score.file}:")
    names = {name for part in score.parts for name in (part.name, part.written_name)}
    for name in sorted(names, key=len, reverse=True):
        if place == name or place.startswith(f"{name}:"):
            return f"{part_words(name)} {place.removeprefix(name).removeprefix(':')}".rstrip()
    return place


def part_words(name: str) -> str:
    """The name of a part in quotes, cut where it is very long."""
    return repr(one_line(name, NAME_CELLS))
