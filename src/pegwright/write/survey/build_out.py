"""The build-out of a survey as a table of text, as JSON, and as what its chart shows."""

from __future__ import annotations

from collections.abc import Iterable

from pegwright.draw.build_out import BuildOutChart
from pegwright.json_value import Json
from pegwright.remedy.additions import Addition, addition_words
from pegwright.units import listed, percent_text, plural
from pegwright.verdict.build_out import BuildOut
from pegwright.verdict.tally import BuildOutTable, Survey
from pegwright.wheel import Wheel
from pegwright.write.tables import Line, TextTable

_INDENT = "  "


def build_out_lines(survey: Survey) -> list[Line]:
    """The table, or how to get it where pieces do not fit."""
    table = survey.build_out
    if table is None:
        return []
    wheel = survey.wheel
    if not table.sets:
        return ["Build-out: no addition to the wheel lets another piece in or makes another note sound"]
    rows = [["0", f"{table.pieces:,}", f"{table.sounding:,}", _percent(table.sounding, table.notes), "", ""]]
    before: tuple[Addition, ...] = ()
    for number, built in enumerate(table.sets, 1):
        chosen = built.chosen
        figures = [f"{number}", f"{built.pieces:,}", f"{built.sounding:,}", _percent(built.sounding, table.notes)]
        if chosen.additions == before:
            above = f"the {len(before)} above" if before else "the wheel as it is"
            rows.append([*figures, "", f"no set of {number} found that is better than {above}"])
        else:
            model = "exact" if chosen.exact else _more(chosen)
            rows.append([*figures, model, _step(before, chosen.additions, wheel)])
        before = chosen.additions
    header = ("Additions", "Pieces that fit", "Notes that sound", "Share", "Model", "Change of the set")
    lines: list[Line] = [
        f"Build-out: from {plural(table.additions, 'possible addition')}, the set that lets most pieces in, "
        "then makes most notes sound",
        TextTable(header, rows, (4, 5), indent=_INDENT),
        "Pieces and notes are those of a new fit of every piece to the wheel with the set added, at its best "
        "transposition and start",
        "exact: in the coverage model no other set of as many does better; else how much better one could do at most",
    ]
    if table.not_computed:
        what = plural(table.not_computed, "piece")
        lines.append(
            f"For {what} it was not computed what they need (--time-limit, --memory-limit): they count as they are"
        )
    return lines


def _percent(part: int, whole: int) -> str:
    return percent_text(part / max(1, whole), 1)


def _more(chosen: BuildOut) -> str:
    parts = [plural(chosen.more_pieces, "piece")] if chosen.more_pieces else []
    parts += [plural(chosen.more_notes, "note")] if chosen.more_notes else []
    return f"up to {listed(parts)} more"


def _step(before: Iterable[Addition], now: Iterable[Addition], wheel: Wheel) -> str:
    """What is in a set and not in the one before it, and the other way round."""
    earlier, later = tuple(before), tuple(now)
    new = listed([short_words(addition, wheel) for addition in later if addition not in earlier])
    gone = listed([short_words(addition, wheel) for addition in earlier if addition not in later])
    return f"+ {new}" + (f"; without {gone}" if gone else "")


def short_words(addition: Addition, wheel: Wheel) -> str:
    """An addition in a list of such."""
    return addition_words(addition, wheel).removeprefix("a channel for ")


def build_out_json(survey: Survey) -> Json:
    """The table for programs; None where there is none."""
    table = survey.build_out
    if table is None:
        return None
    return {
        "additions": table.additions,
        "not_computed": table.not_computed,
        "notes": table.notes,
        "pieces_now": table.pieces,
        "sounding_now": table.sounding,
        "sets": [
            {
                "things": [addition.code for addition in built.chosen.additions],
                "words": [addition_words(addition, survey.wheel) for addition in built.chosen.additions],
                "pieces": built.pieces,
                "sounding": built.sounding,
                "model": {
                    "pieces": built.chosen.covered.pieces,
                    "sounding": built.chosen.covered.notes,
                    "more_pieces": built.chosen.more_pieces,
                    "more_notes": built.chosen.more_notes,
                    "exact": built.chosen.exact,
                },
            }
            for built in table.sets
        ],
    }


def chart_of(table: BuildOutTable, wheel: Wheel, of_pieces: int) -> BuildOutChart:
    """What the chart of a table shows: additions that are in more of the sets first.

    Args:
        table: see there.
        wheel: as it is.
        of_pieces: how many pieces were judged.
    """
    within: dict[Addition, list[int]] = {}
    for number, built in enumerate(table.sets, 1):
        for addition in built.chosen.additions:
            within.setdefault(addition, []).append(number)
    ordered = sorted(within, key=lambda addition: (-len(within[addition]), within[addition], addition.order()))
    sounding = (table.sounding, *(built.sounding for built in table.sets))
    return BuildOutChart(
        title=f"What to build next on {wheel.name}",
        pieces=(table.pieces, *(built.pieces for built in table.sets)),
        of_pieces=of_pieces,
        shares=tuple(notes / max(1, table.notes) for notes in sounding),
        rows=tuple((short_words(addition, wheel), tuple(within[addition])) for addition in ordered),
    )
