"""The show overview: one line a song, with the swap that prepares it and the time available for that."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pegwright.draw.furniture import CAUTION, GREY, MARGIN_MM, centred, fitted_text, foot, heading
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.paper import A4, MAX_ZOOM, Paper
from pegwright.draw.time_bars import BARS_WORDS, TimeBars
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, rectangle
from pegwright.frozen import frozen
from pegwright.units import listed, plural, printed, quarters_per_minute

SUBJECT = "Show overview"
HEAD_MM, FOOT_MM = 24.0, 9.0
TEXT_MM, LABEL_MM, VERDICT_MM = 3.8, 2.9, 4.6
LINE_MM, HEAD_LINE_MM = 8.0, 7.0
CELL_GAP_MM, MIN_BARS_MM, MAX_TITLE_MM = 3.4, 40.0, 64.0
MAX_WORDS_MM = 38.0  # of a set's name or a start
BEFORE = "before the show"
_RULE = Pen(stroke=0.0, width_mm=0.4)
_HAIR = Pen(stroke=0.75, width_mm=0.12)
_FRAME = Pen(stroke=0.0, width_mm=0.6)
_LEFT = (1, 2, 3)  # columns that are flush left: title, set, start
_NAMES = (
    "",
    "song",
    "plates",
    "starts",
    "transp.",
    "♩",
    "plays",
    "pull",
    "set",
    "stay",
    "pins",
    "needs",
    "has",
)


@frozen()
class OverviewRow:
    """One song of a show, or one set of plates of a song that takes several, and the swap that makes them ready.

    Args:
        position: in playing order, 0-based.
        title: of the song.
        set_name: of the set of plates, such as `A`.
        start_text: where on the turn the song begins, as a person reads it; may be empty.
        transpose_semitones: as fitted.
        us_per_quarter: its tempo.
        duration_s: how long its music sounds; 0 where another row of the song gives it.
        pull, set_pins, stay: pins of the swap; `set_pins` and `stay` together are then in the plates.
        needed_s: the time that the swap takes.
        available_s: the time available for it during the show; None where it is done before the show.
        late_s: how long the show waits for it, if the same people do one swap after another.
        stops_s: how long the music stops for changes of sets, in addition; 0 where another row of the song gives it.
    """

    position: int
    title: str
    set_name: str
    start_text: str
    transpose_semitones: int
    us_per_quarter: int
    duration_s: float
    pull: int
    set_pins: int
    stay: int
    needed_s: float
    available_s: float | None
    late_s: float = 0.0
    stops_s: float = 0.0

    @property
    def hurry(self) -> float:
        """The time needed as a share of the time available; above 1 the swap is too late, 0 before the show."""
        if self.available_s is None or self.needed_s == 0:
            return 0.0
        return self.needed_s / self.available_s if self.available_s > 0 else math.inf


def most_hurried(rows: Sequence[OverviewRow]) -> int | None:
    """The row of the most hurried swap, the first of equals; None where no swap is done during the show."""
    hurries = [row.hurry for row in rows]
    return hurries.index(max(hurries)) if any(hurries) else None


def overview_pages(title: str, wheel_name: str, rows: Sequence[OverviewRow], paper: Paper) -> tuple[Page, ...]:
    """The overview of a show, over as many pages as its songs need.

    Args:
        title: of the show.
        wheel_name: for the heading.
        rows: in playing order.
        paper: held with its long side across.
    """
    grid = _grid(rows, paper)
    high_mm = paper.short_mm - 2 * MARGIN_MM - HEAD_MM - FOOT_MM - HEAD_LINE_MM * grid.bars.zoom
    on_page = max(1, int(high_mm / (LINE_MM * grid.bars.zoom)) - 1)  # less the line of totals
    starts = range(0, max(1, len(rows)), on_page)
    hurried = most_hurried(rows)
    songs, pins = len({row.position for row in rows}), sum(row.pull + row.set_pins for row in rows)
    facts = f"{wheel_name} · {plural(songs, 'song')} · {_music(rows)} · {plural(pins, 'pin')} to move"
    words, room_mm = _verdict(rows, hurried), paper.long_mm - 2 * MARGIN_MM
    pages = []
    for number, start in enumerate(starts):
        page = f"page {printed(number)} of {len(starts)}"
        shapes = [
            *heading(paper.long_mm, title, SUBJECT, facts),
            fitted_text(MARGIN_MM, MARGIN_MM + 18.6, words, VERDICT_MM, room_mm, bold=True),
            *_table(grid, rows, range(start, min(start + on_page, len(rows))), hurried),
            *foot(paper.long_mm, paper.short_mm, page, (BARS_WORDS + _busy_words(rows), CAUTION)),
        ]
        pages.append(Page(paper.long_mm, paper.short_mm, tuple(shapes), f"{title}, show overview, {page}"))
    return tuple(pages)


def minutes(seconds: float) -> str:
    """`4:05`, to the nearest second."""
    whole, rest = divmod(round(seconds), 60)
    return f"{whole}:{rest:02d}"


def work_time(seconds: float) -> str:
    """The time that work needs, to the second above."""
    return minutes(math.ceil(seconds))


def free_time(seconds: float) -> str:
    """The time that there is for it, to the second below."""
    return minutes(math.floor(seconds))


def _music(rows: Sequence[OverviewRow]) -> str:
    music, stops_s = minutes(sum(row.duration_s for row in rows)), sum(row.stops_s for row in rows)
    stops = f", stopped for {minutes(stops_s)} while sets are changed" if stops_s else ""
    return f"{music} of music{stops}"


@frozen()
class _OverviewGrid:
    """Where the columns of words begin and end on the page, in mm; right of them are the bars."""

    begins_mm: tuple[float, ...]
    ends_mm: tuple[float, ...]
    bars: TimeBars


def _cells(row: OverviewRow) -> tuple[str, ...]:
    return (
        str(printed(row.position)),
        row.title,
        row.set_name,
        row.start_text,
        f"{row.transpose_semitones:+d}".replace("-", "−") if row.transpose_semitones else "0",
        f"{quarters_per_minute(row.us_per_quarter):.0f}",
        minutes(row.duration_s) if row.duration_s else "",
        f"{row.pull:,}",
        f"{row.set_pins:,}",
        f"{row.stay:,}",
        f"{row.set_pins + row.stay:,}",
        work_time(row.needed_s),
        BEFORE if row.available_s is None else free_time(row.available_s),
    )


def _totals(rows: Sequence[OverviewRow]) -> tuple[str, ...]:
    pull, set_pins, stay = (sum(getattr(row, name) for row in rows) for name in ("pull", "set_pins", "stay"))
    plays = minutes(sum(row.duration_s for row in rows))
    needs = minutes(sum(math.ceil(row.needed_s) for row in rows))
    return ("", "total", "", "", "", "", plays, f"{pull:,}", f"{set_pins:,}", f"{stay:,}", "", needs, "")


def _grid(rows: Sequence[OverviewRow], paper: Paper) -> _OverviewGrid:
    zoom = min(paper.long_mm / A4.long_mm, MAX_ZOOM)
    size_mm, label_mm = TEXT_MM * zoom, LABEL_MM * zoom
    hurried = most_hurried(rows)
    lines = [(_cells(row), number == hurried) for number, row in enumerate(rows)] + [(_totals(rows), True)]
    widths = []
    for column, name in enumerate(_NAMES):
        cells = [(line[column], bold) for line, bold in lines if line[column] != BEFORE]
        words_mm = max(width_mm(cell, size_mm, bold) for cell, bold in cells)
        max_mm = {1: MAX_TITLE_MM, 2: MAX_WORDS_MM, 3: MAX_WORDS_MM}.get(column, math.inf) * zoom
        widths.append(max(min(words_mm + 0.1, max_mm), width_mm(name, label_mm)))
    gap_mm = CELL_GAP_MM * zoom
    room_mm = paper.long_mm - 2 * MARGIN_MM - MIN_BARS_MM * zoom - gap_mm * len(widths)
    for column in (3, 2, 1):  # these are narrowed where the paper is too narrow
        spare_mm = max(0.0, sum(widths) - room_mm)
        widths[column] -= min(spare_mm, max(0.0, widths[column] - 12.0 * zoom))
    begins = [MARGIN_MM + sum(widths[:column]) + column * gap_mm for column in range(len(widths))]
    ends = [begin + width for begin, width in zip(begins, widths, strict=True)]
    longest_s = max((max(row.needed_s, row.available_s) for row in rows if row.available_s is not None), default=0.0)
    bars = TimeBars(ends[-1] + 1.5 * gap_mm, paper.long_mm - MARGIN_MM, longest_s, zoom)
    return _OverviewGrid(tuple(begins), tuple(ends), bars)


def _verdict(rows: Sequence[OverviewRow], hurried: int | None) -> str:
    if hurried is None:
        return "No swap is done during the show."
    row = rows[hurried]
    late = sum(other.late_s > 0 or other.hurry > 1 for other in rows)
    fits = f"{plural(late, 'swap')} will not be ready in time." if late else "Every swap fits."
    time = f"needs {work_time(row.needed_s)} and has {free_time(row.available_s or 0.0)}"
    return f"{fits} The most hurried, for {printed(row.position)} {row.title}, {time}."


def _busy_words(rows: Sequence[OverviewRow]) -> str:
    """Which songs wait for people and not for time, so that nobody reads `needs` and `has` as a contradiction."""
    late = [str(printed(row.position)) for row in rows if row.late_s > 0 and row.hurry <= 1]
    if not late:
        return ""
    songs = f"Songs {listed(late)} wait" if len(late) > 1 else f"Song {late[0]} waits"
    return f" {songs} because the same people are still busy with an earlier swap."


def _table(grid: _OverviewGrid, rows: Sequence[OverviewRow], shown: range, hurried: int | None) -> Iterator[Shape]:
    """Names of the columns, the rows of this page and, below the last row of all, the totals."""
    zoom, top = grid.bars.zoom, MARGIN_MM + HEAD_MM
    high_mm, left, right = LINE_MM * zoom, MARGIN_MM, grid.bars.right_mm
    first = top + HEAD_LINE_MM * zoom
    bottom = first + len(shown) * high_mm
    yield from _line(grid, _NAMES, top + 0.4 * HEAD_LINE_MM * zoom, LABEL_MM * zoom, grey=GREY)
    yield from grid.bars.axis(top + 0.4 * HEAD_LINE_MM * zoom, first, bottom)
    yield Path(((left, first), (right, first)), _RULE)
    for place, number in enumerate(shown):
        row, middle = rows[number], first + (place + 0.5) * high_mm
        worst = number == hurried
        yield from _line(grid, _cells(row), middle, TEXT_MM * zoom, bold=worst)
        yield from grid.bars.bars(middle, row.needed_s, row.available_s)
        edge = first + (place + 1) * high_mm
        yield Path(((left, edge), (right, edge)), _HAIR)
        if worst:
            yield rectangle(left - 2, edge - high_mm, right + 2, edge, _FRAME)
    if shown.stop == len(rows):
        yield from _line(grid, _totals(rows), bottom + 0.5 * high_mm, TEXT_MM * zoom, bold=True)
        yield Path(((left, bottom), (right, bottom)), _RULE)


def _line(
    grid: _OverviewGrid, cells: Sequence[str], y_mm: float, size_mm: float, bold: bool = False, grey: float = 0.0
) -> Iterator[Shape]:
    for column, (cell, begin, end) in enumerate(zip(cells, grid.begins_mm, grid.ends_mm, strict=True)):
        if cell == BEFORE:
            yield from grid.bars.words(y_mm, BEFORE)
        elif cell:
            words = fitted(cell, size_mm, end - begin + 0.01, bold)
            x_mm, anchor = (begin, Anchor.START) if column in _LEFT else (end, Anchor.END)
            yield centred(x_mm, y_mm, words, size_mm, anchor, bold, grey)
