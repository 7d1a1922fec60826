"""A remedy taken: the request that makes its changes, with all options given before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from shlex import quote

from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.ask.text import typed
from pegwright.remedy.changes import Change


def command_with(song: str, request: Request, options: FitOptions, changes: Sequence[Change]) -> str:
    """The whole command that makes changes to a song as it was fitted: `pegwright fit waltz.mid --thin 4 --start 3`.

    Args:
        song: the name of its file.
        request: with the options of the song; further arguments as for `taken`.
        options: as it was fitted.
        changes: of a remedy.
    """
    return " ".join(filter(None, ["pegwright fit", quote(song), typed(taken(request, options, changes))]))


def by_number(command: str, number: int, stem: str | None) -> str:
    """The command that takes a remedy by its number: `pegwright fit waltz.mid --take 2 --keep waltz-2.toml`.

    Args:
        command: the whole command that fits the song as it was.
        number: of the remedy, from 1.
        stem: of the song's file; None for a song file, in which the remedy is written.
    """
    keep = "" if stem is None else f" --keep {quote(f'{stem}-{number}')}.toml"
    return f"{command} --take {number}{keep}"


def taken(request: Request, options: FitOptions, changes: Sequence[Change]) -> Request:
    """The request with changes made to a song as it was fitted.

    Args:
        request: with the options of the song.
        options: as it was fitted, whose transposition and start stay unless they are changed.
        changes: of a remedy.
    """
    fields: dict[str, object] = {"transpose_semitones": options.transpose_semitones, "start_steps": options.start_steps}
    parts = dict(request.part_semitones)
    for change in changes:
        fields |= dict(change.fields)
        if change.part:
            name, semitones = change.part
            parts[name] = parts.get(name, 0) + semitones
    moved = tuple((name, semitones) for name, semitones in parts.items() if semitones)
    fit_options = replace(request.options, **fields)  # type: ignore[arg-type]  # each field is set with its own type
    edits = (*request.note_edits, *(edit for change in changes for edit in change.note_edits))
    return replace(request, options=fit_options, search=None, report_best=1, part_semitones=moved, note_edits=edits)
