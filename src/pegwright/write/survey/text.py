"""The summary of a survey as text: what fits, what would, and what is missing most."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.remedy.additions import addition_words
from pegwright.tell.wheel import set_holes
from pegwright.units import percent_text, plural, printed
from pegwright.verdict.tally import NEARLY, FitGroup, Missing, Survey, Together
from pegwright.verdict.values import SurveyRow, Verdict
from pegwright.wheel import Wheel
from pegwright.write.survey.build_out import build_out_lines
from pegwright.write.survey.csv import path_text
from pegwright.write.tables import LINE_CELLS, Line, TextTable, cells_of, one_line, paragraphs

LISTED = 30  # lines of each list
TITLE_CELLS = 30
NAME_CELLS = 40
PATH_CELLS = 2 * LINE_CELLS
LACKS_CELLS = 22
_TEXTS = {"Title", "Lacks", "File"}
_INDENT = "  "
LISTED_GROUPS = [group for group in FitGroup if group is not FitGroup.NOT_JUDGED]
_SHORT = frozenset({FitGroup.NEARLY_FITS, FitGroup.DOES_NOT_FIT})  # not all notes of these sound

GROUP_WORDS = {
    FitGroup.FITS: "Fits as it is",
    FitGroup.FITS_WITH_START: "Fits with another start",
    FitGroup.FITS_WITH_TRANSPOSITION: "Fits with a transposition",
    FitGroup.NEARLY_FITS: f"Nearly fits: {100 * NEARLY:.0f} % of its notes sound, or more",
    FitGroup.DOES_NOT_FIT: "Does not fit",
    FitGroup.NOT_JUDGED: "Could not be judged",
}


def survey_text(survey: Survey, width: int = LINE_CELLS) -> str:
    """The summary, in lines of a width."""
    counted, wheel = survey.counted, survey.wheel
    parts: list[list[Line]] = [_head(survey), _totals(survey)]
    parts += [_listing(group, counted.groups[group], wheel) for group in LISTED_GROUPS]
    parts += [
        _missing(counted.missing, wheel),
        _together(counted.together, wheel),
        build_out_lines(survey),
        _by_hand(survey.rows),
        _errors(counted.groups[FitGroup.NOT_JUDGED]),
    ]
    return paragraphs(parts, width)


def _head(survey: Survey) -> list[Line]:
    where, what = one_line(survey.folder, NAME_CELLS), one_line(survey.wheel.name, NAME_CELLS)
    tried = f"{plural(survey.semitones, 'semitone')} up and down, each with every start"
    folded = "; pitches without a channel are moved by octaves" if survey.fold_octaves else ""
    return [
        f"{plural(len(survey.rows), 'score file')} in {where} on {what}",
        f"Tried with each: {tried if survey.semitones else 'every start'}; long pieces take several turns{folded}",
        *(f"{finding.message}." for finding in set_holes(survey.wheel)),
    ]


def _totals(survey: Survey) -> list[Line]:
    groups, count = survey.counted.groups, len(survey.rows)
    lines = [
        (words, f"{len(groups[group]):,}", percent_text(len(groups[group]) / max(1, count), 1))
        for group, words in GROUP_WORDS.items()
    ]
    table: list[Line] = [TextTable(("", "Pieces", "Share"), [*lines, ("All score files", f"{count:,}", "")])]
    stopped = sum(row.verdict is not None and row.verdict.weight_gap is not None for row in survey.rows)
    if stopped:
        table.append(f"{plural(stopped, 'piece')} not proved to be at the best choice: see weight_gap in survey.csv")
    if survey.passed_over:
        table.append(f"{plural(survey.passed_over, 'file')} of other kinds skipped")
    return table


def _listing(group: FitGroup, rows: Sequence[SurveyRow], wheel: Wheel) -> list[Line]:
    if not rows:
        return []
    judged = [(row, row.verdict) for row in rows[:LISTED] if row.verdict]
    lines = [
        _cells(group, verdict, wheel) | {"File": one_line(path_text(row.path), PATH_CELLS)} for row, verdict in judged
    ]
    header = tuple(lines[0])
    left = tuple(number for number, name in enumerate(header) if name in _TEXTS)
    below = [(header.index("Lacks"),)] if "Lacks" in header else []
    table = TextTable(header, [tuple(line.values()) for line in lines], left, below, over=True, indent=_INDENT)
    return _section(GROUP_WORDS[group], [table], len(rows), "survey.csv")


def _cells(group: FitGroup, verdict: Verdict, wheel: Wheel) -> dict[str, str]:
    """The cells of a line by their columns."""
    sounding = verdict.as_is if group is FitGroup.FITS else verdict.at_best
    cells = {"Title": one_line(verdict.title, TITLE_CELLS)}
    if group in _SHORT:
        cells["Sound"] = f"{sounding.count.sounding:,} of {sounding.count.read:,}"
        cells["Share"] = f"{shown_percent(sounding.share)} %"
    else:
        cells |= {"Turns": f"{verdict.turns:,}", "Notes": f"{sounding.count.read:,}", "Moved": f"{sounding.moved:,}"}
    if group is FitGroup.FITS_WITH_TRANSPOSITION or group in _SHORT:
        cells["Semitones"] = f"{verdict.transpose_semitones:+d}" if verdict.transpose_semitones else "0"
    if group is not FitGroup.FITS:
        cells["Start"] = f"{printed(verdict.start_steps):,}"
    if group in _SHORT:
        things = [addition_words(addition, wheel).removeprefix("a channel for ") for addition in verdict.lacks]
        every = one_line(", ".join(things), PATH_CELLS)
        cells["Lacks"] = every if cells_of(every) <= LACKS_CELLS else _first_of(things)
    return cells


def _first_of(things: Sequence[str]) -> str:
    """The first of several things, and how many more there are."""
    first = one_line(things[0], LINE_CELLS - NAME_CELLS)
    return f"{first} and {len(things) - 1:,} more" if things[1:] else first


def _missing(missing: Sequence[Missing], wheel: Wheel) -> list[Line]:
    if not missing:
        return []
    rows = [
        [_named(addition_words(item.addition, wheel)), f"{item.lacked_by:,}", f"{item.notes:,}", f"{item.lets_in:,}"]
        for item in missing[:LISTED]
    ]
    if any(item.lets_in for item in missing):
        header = ["Thing", "Pieces", "Notes", "Lets in alone"]
        title = "Missing most: how many pieces and notes lack a thing, and how many pieces it lets in alone"
    else:  # a column of zeros says nothing
        header, rows = ["Thing", "Pieces", "Notes"], [row[:-1] for row in rows]
        title = "Missing most: how many pieces and notes lack a thing; none lets a piece in alone"
    return _section(title, [TextTable(header, rows, indent=_INDENT)], len(missing), "survey.json")


def _together(together: Sequence[Together], wheel: Wheel) -> list[Line]:
    if not together:
        return []
    lines: list[Line] = ["Best together"]
    for chosen in together:
        how = "no others let in more at the transposition already chosen"
        how = how if chosen.exact else "chosen one after another; others may let in more"
        lines.append(f"  {plural(len(chosen.additions), 'thing')} let in {plural(chosen.lets_in, 'piece')} ({how}):")
        lines += [f"      {_named(addition_words(addition, wheel))}" for addition in chosen.additions]
    return lines


def _named(words: str) -> str:
    return one_line(words, LINE_CELLS - NAME_CELLS)


def _by_hand(rows: Sequence[SurveyRow]) -> list[Line]:
    paths = [
        _INDENT + one_line(path_text(row.path), LINE_CELLS - 2) for row in rows if row.verdict and row.verdict.by_hand
    ]
    title = "Played by hand, or not to the file's own beat: try `pegwright fit FILE --performed`"
    return _section(title, paths[:LISTED], len(paths), "survey.csv") if paths else []


def _errors(rows: Sequence[SurveyRow]) -> list[Line]:
    if not rows:
        return []
    lines = [
        f"{_INDENT}{one_line(path_text(row.path), NAME_CELLS)}: {one_line(row.error, 2 * LINE_CELLS)}"
        for row in rows[:LISTED]
    ]
    return _section(GROUP_WORDS[FitGroup.NOT_JUDGED], lines, len(rows), "survey.csv")


def shown_percent(share: float) -> str:
    """A share of 0 to 1 in percent with one decimal, below 100 unless it is the whole."""
    return f"{min(100 * share, 99.9) if share < 1 else 100.0:.1f}"


def _section(title: str, lines: Sequence[Line], count: int, file: str) -> list[Line]:
    """A title with the lines of a list, and how many of its `count` things are only in a file."""
    more = [f"{_INDENT}and {count - LISTED:,} more, in {file}"] if count > LISTED else []
    return [title, *lines, *more]
