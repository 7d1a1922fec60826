"""What another rhythm changes for the ear, as text and as data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pegwright.json_value import Json
from pegwright.remedy.changes import CommandOf
from pegwright.remedy.song_remedies import Remedies
from pegwright.units import figures, printed

if TYPE_CHECKING:
    from pegwright.remedy.rhythms import Rhythm

MAX_TYPED = 12  # note edits that a command is printed with; more are taken by the number of the remedy
DECIMALS = 3


def ear_words(rhythm: Rhythm) -> str:
    """What changes for the ear: the change of an interval that is greatest, how audible it is, and all of them."""
    now = "" if rhythm.harm_now is None else f", now {figures(rhythm.harm_now)} times"
    return (
        f"the time from onset to onset changes by up to {figures(rhythm.worst_ms)} ms ({rhythm.level.words}), "
        f"in all {figures(rhythm.harm)} times what goes unheard{now}"
    )


def rhythm_command(rhythm: Rhythm, number: int, command: CommandOf) -> str:
    """The whole command that makes a rhythm: its note edits, or where they are many, the number of the remedy.

    Args:
        rhythm: see there.
        number: of the remedy, from 1.
        command: the whole command that makes changes.
    """
    many = len(rhythm.change.note_edits) > MAX_TYPED
    return command((), take=number) if many else command([rhythm.change])


def rhythms_json(remedies: Remedies, command: CommandOf, short: bool = False) -> list[Json]:
    """The same as data, each with the number that `--take` has for it.

    Args:
        remedies: what was tried.
        command: the whole command that makes changes.
        short: whether people read the commands, see `rhythm_command`.
    """
    first = len(remedies.song)
    commands = [
        rhythm_command(each.rhythm, printed(number), command) if short else command([each.rhythm.change])
        for number, each in enumerate(remedies.rhythms, first)
    ]
    return [
        {
            "number": printed(number),
            "changes": [{"what": each.rhythm.change.words, "options": each.rhythm.change.typed}],
            "bars": [bar.bar.label for bar in each.rhythm.bars],
            "sounding": each.sounding,
            "not_sounding": each.silent,
            "interval_change_ms": round(each.rhythm.worst_ms, DECIMALS),
            "audibility": each.rhythm.level.words,
            "times_unheard": round(each.rhythm.harm, DECIMALS),
            "times_unheard_now": None if each.rhythm.harm_now is None else round(each.rhythm.harm_now, DECIMALS),
            "command": of_rhythm,
        }
        for number, (each, of_rhythm) in enumerate(zip(remedies.rhythms, commands, strict=True), first)
    ]
