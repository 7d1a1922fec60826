"""What would help a song, as text for a terminal and as data for the report."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from pegwright.json_value import Json
from pegwright.remedy.budget import FULL_WORK, PAGE_WORK
from pegwright.remedy.changes import Change, CommandOf, SongEdit
from pegwright.remedy.song_remedies import NoteRemedy, Remedies, Shortfall
from pegwright.remedy.wheel_changes import WheelRemedy
from pegwright.score import Score
from pegwright.tell.audible import Audibility
from pegwright.units import listed, plural, printed
from pegwright.write.cautions import CHANGE_LINE
from pegwright.write.report.rhythms import ear_words, rhythm_command, rhythms_json
from pegwright.write.tables import HANG, LINE_CELLS, UncutLine, command_lines, paragraphs, unbroken_quotes
from pegwright.write.wheel.toml import WheelFileEdit, wheel_file_edits

LISTED_NOTES = 10
_COMMAND_INDENT = " " * 5
NOT_ALL_TRIED = (
    "Not all was tried: the work allowed for this was spent. `pegwright fit SONG --remedies` does up to"
    f" {FULL_WORK // PAGE_WORK} times as much as a report page."
)


def _options_alone(changes: Sequence[Change], edit: SongEdit | None = None, take: int | None = None) -> str:
    if take is not None:
        return f"--take {take}"
    return " ".join([*([edit] if edit else []), *(change.typed for change in changes)])


def remedies_text(
    score: Score,
    remedies: Remedies,
    wheel: WheelRemedy | None,
    dropped: int = 0,
    width: int = LINE_CELLS,
    command: CommandOf = _options_alone,
) -> str:
    """Remedies for the song, for its troubled notes, and for the wheel, best first.

    Args:
        score: the song.
        remedies: for it.
        wheel: the fewest changes to the wheel, or None.
        dropped: further notes that were read and dropped on request.
        width: cells of a line.
        command: the whole command that makes changes, given them and an edit of the whole song or None; by
            default the options of the changes alone.
    """
    if not remedies.tried and remedies.complete:
        return "Nothing needs a remedy.\n"
    blocks = [[f"What would help (every line was tried: {plural(remedies.tried, 'fit')})"]]
    for song_edit, shortfall, tried in (
        (SongEdit.PERFORMED, remedies.performed, "It was played by hand; with every note on the hole that was meant"),
        (SongEdit.STRAIGHT, remedies.straight, "Its swing is written out; with pairs of long and short played even"),
    ):
        if shortfall:
            now = "" if remedies.song else f" (now {_shortfall_words(remedies.now, score, dropped)})"
            item = _item("- ", f"{tried} {_shortfall_words(shortfall, score, dropped)}{now}:")
            blocks.append([item, *_command_lines(command((), song_edit), width)])
    if remedies.song:
        blocks.append([f"The song as a whole, now {_shortfall_words(remedies.now, score, dropped)}:"])
        for number, remedy in enumerate(remedies.song):
            words = f"{_together(remedy.changes)}: {_shortfall_words(remedy.shortfall, score, dropped)}"
            blocks[-1] += [_item(f"{printed(number)}. ", words), *_command_lines(command(remedy.changes, None), width)]
    else:
        blocks.append(["The song as a whole: no change that was tried makes it better."])
    if remedies.rhythms:
        rhythms = _rhythms(score, remedies, dropped)
        blocks.append(["Another rhythm, of all that the holes of a bar allow the one that changes least for the ear:"])
        for number, (each, words) in enumerate(zip(remedies.rhythms, rhythms, strict=True), len(remedies.song)):
            lines = _command_lines(rhythm_command(each.rhythm, printed(number), command), width)
            blocks[-1] += [_item(f"{printed(number)}. ", words), *lines]
    blocks.append(_notes(score, remedies, dropped))
    if wheel:
        more = plural(wheel.silent_now - wheel.silent, "more note")
        items = [_item("- ", words) for words in wheel.words]
        blocks += [[f"The wheel: as few changes as bring in {more}:", *items], [CHANGE_LINE]]
        for edit in wheel_file_edits(wheel.wheel, wheel.changed):
            blocks += [[f"{edit_words(edit)}:"], [_file_line(line) for line in edit.lines.splitlines()]]
    if not remedies.complete:
        blocks.append([NOT_ALL_TRIED])
    return paragraphs(blocks, width)


def edit_words(edit: WheelFileEdit) -> str:
    """Where lines go in a wheel file."""
    if not edit.name:
        return "At the end of the wheel file"
    key = edit.lines.partition(" ")[0]
    where = f'In the [[{edit.table}]] table of the wheel file named "{edit.name}", in place of `{key}` if it has that'
    if not edit.in_short:
        return where
    head = f"`[[channel]]` and `name = {json.dumps(edit.name, ensure_ascii=False)}`"
    return f"{where}; if [[channels]] gives that channel, at the end of the file below new lines {head}"


def _rhythms(score: Score, remedies: Remedies, dropped: int) -> Iterator[str]:
    """What each rhythm does, and what it changes for the ear."""
    for each in remedies.rhythms:
        sounding = _sounding_words(each.sounding, score.note_count + dropped)
        yield f"{_together([each.rhythm.change])}: {sounding}; {ear_words(each.rhythm)}"


def _notes(score: Score, remedies: Remedies, dropped: int) -> list[str]:
    """Lines for troubled notes; notes with the same remedies share a line."""
    rhythm_of = remedies.rhythm_of
    alike: dict[tuple[tuple[NoteRemedy, ...], int | None], list[int]] = {}
    for note, helps in remedies.notes.items():
        alike.setdefault((helps, rhythm_of.get(note)), []).append(note)
    lines = ["Note by note, and what each change makes of the whole song:"]
    groups = sorted(alike.items(), key=lambda item: (item[0] == ((), None), item[1][0]))
    for (helps, rhythm), notes in groups[:LISTED_NOTES]:
        first = score.source(notes[0]).in_words
        more = f" and {plural(len(notes) - 1, 'more note')}" if len(notes) > 1 else ""
        ways = [_note_words(item, score, dropped) for item in helps]
        if rhythm is not None:
            ways.append(f"another rhythm, {printed(rhythm)} above")
        mark, what = "- ", f"{first}{more}: "
        for way in ways or ["no single change that was tried helps"]:
            lines.append(_item(mark, what + way))
            mark, what = "  or ", ""
    if len(groups) > LISTED_NOTES:
        lines.append(f"  and {plural(len(groups) - LISTED_NOTES, 'more group')} of notes; --json lists them all")
    return lines


def _note_words(item: NoteRemedy, score: Score, dropped: int) -> str:
    level = "" if item.level == Audibility.EXACT else f", still {item.level.words}"
    return f"{item.change.words}{level} ({_shortfall_words(item.shortfall, score, dropped)})"


def _together(changes: Sequence[Change]) -> str:
    text = listed([change.words for change in changes])
    return text[0].upper() + text[1:]


def _shortfall_words(shortfall: Shortfall, score: Score, dropped: int) -> str:
    head = _sounding_words(score.note_count - shortfall.silent, score.note_count + dropped)
    merged = f", {shortfall.merged:,} sharing the pin of a note of another pitch" if shortfall.merged else ""
    moved = f", {shortfall.moved:,} moved" if shortfall.moved else ""
    return head + merged + moved + (f", {shortfall.audible:,} audibly" if shortfall.audible else "")


def _sounding_words(sounding: int, read: int) -> str:
    share = "all" if sounding == read else f"{sounding:,} of"
    return f"{share} {plural(read, 'note')} sound"


def _item(mark: str, text: str) -> str:
    return f"  {mark}{HANG}{text}"


def _command_lines(command: str, width: int) -> list[str]:
    """A command, to be copied."""
    return [UncutLine(line) for line in command_lines(command, width, _COMMAND_INDENT)]


def _file_line(line: str) -> str:
    """A line for a file of TOML, whose lists may go on in further lines."""
    return UncutLine(f"    {unbroken_quotes(line)}".rstrip())


def remedies_json(
    score: Score,
    remedies: Remedies,
    wheel: WheelRemedy | None,
    command: CommandOf = _options_alone,
    short: bool = False,
) -> dict[str, Json]:
    """The same as data; notes are counted from 1. Arguments as for `remedies_text` and `rhythms_json`."""
    return {
        "fits_tried": remedies.tried,
        "now": _shortfall_json(remedies.now),
        "song": [
            _changes_json(remedy.changes)
            | _shortfall_json(remedy.shortfall)
            | {"command": command(remedy.changes, None)}
            for remedy in remedies.song
        ],
        "notes": [
            {
                "note": printed(note),
                "source": str(score.source(note)),
                "remedies": [
                    _changes_json([item.change]) | {"level": item.level.words} | _shortfall_json(item.shortfall)
                    for item in helps
                ],
            }
            for note, helps in remedies.notes.items()
        ],
        "wheel": None if wheel is None else _wheel_json(wheel),
        **({"rhythms": rhythms_json(remedies, command, short)} if remedies.rhythms else {}),
        "complete": remedies.complete,
        **({"performed": _shortfall_json(remedies.performed)} if remedies.performed else {}),
        **({"straight": _shortfall_json(remedies.straight)} if remedies.straight else {}),
    }


def _wheel_json(wheel: WheelRemedy) -> dict[str, Json]:
    return {
        "changes": wheel.words,
        "not_sounding": wheel.silent,
        "not_sounding_now": wheel.silent_now,
        "file": [
            {"table": edit.table, "name": edit.name or None, "where": edit_words(edit), "toml": edit.lines}
            for edit in wheel_file_edits(wheel.wheel, wheel.changed)
        ],
    }


def _changes_json(changes: Sequence[Change]) -> dict[str, Json]:
    return {"changes": [{"what": change.words, "options": change.typed} for change in changes]}


def _shortfall_json(shortfall: Shortfall) -> dict[str, Json]:
    return {
        "not_sounding": shortfall.silent,
        "moved_audibly": shortfall.audible,
        "merged": shortfall.merged,
        "moved": shortfall.moved,
    }
