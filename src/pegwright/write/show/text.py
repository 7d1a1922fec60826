"""The plan of a show as plain text: what to pin when, how long there is, what does not fit and what would help."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from pegwright.draw.overview import free_time, minutes, work_time
from pegwright.findings import Finding, Severity
from pegwright.running import running_summary
from pegwright.show.plan import Aim, Plan
from pegwright.show.show import Pinned, Savings, Show
from pegwright.tell.counts import count_words
from pegwright.units import fraction_text, percent_text, plural, printed
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.tables import HANG, LINE_CELLS, Line, TextTable, one_line, paragraphs

HEADER = ("", "Song", "Plays", "Plates", "Start", "Pull", "Set", "Stay", "Pins", "Needs", "Has", "")
TITLE_CELLS = 32
NAME_CELLS = 44
_INDENT = "  "
_PERCENT_UP_TO = 2.0  # of the time there is; more is said in times


def show_text(show: Show, width: int = LINE_CELLS) -> str:
    """The plan, in lines of a width: verdict, a line for everything pinned, how it was chosen, and the findings."""
    blocks: list[list[Line]] = [
        _head(show),
        _facts(show),
        [plan_table(show)],
        _chosen(show),
        *_longer(show),
        *_not_sounding(show),
        *_findings(show),
        [TOUCH_LINE],
    ]
    return paragraphs(blocks, width)


def show_brief(show: Show, width: int = LINE_CELLS) -> str:
    """Verdict, a line for everything that is pinned, and how the plan was chosen, in lines of a width."""
    return paragraphs([_head(show), [plan_table(show)], _chosen(show)], width)


def _head(show: Show) -> list[Line]:
    return [one_line(show.title, LINE_CELLS), *_sentences(verdict(show))]


def verdict(show: Show) -> Iterator[str]:
    """What the plan saves, whether it is proved, and whether everything is ready in time: a sentence each."""
    savings, plan = show.savings, show.plan
    saved = savings.listed - savings.planned
    share = f" ({percent_text(saved / savings.listed)})" if saved and savings.listed else ""
    against = "the songs as listed, each from the first of its best starts, no plate moved to another place"
    moved = f"{plural(savings.planned, 'pin')} moved during the show"
    if saved:
        yield f"{moved}: {abs(saved):,}{share if saved > 0 else ''} {'fewer' if saved > 0 else 'more'} than {against}."
    else:
        yield f"{moved}, as many as {against}."
    yield from _first_step(show.savings)
    yield floor_words(plan)
    yield in_time(show)


def _first_step(savings: Savings) -> Iterator[str]:
    """What fewer pins from the first step cost: the plan holds every song to the starts at which it loses least."""
    fewer = savings.planned - savings.plain
    if fewer <= 0:
        return
    lost = [f"{plural(savings.plain_silent, 'more note')} left out"] if savings.plain_silent > 0 else []
    lost += [f"{plural(savings.plain_moved, 'more note')} moved from their places"] if savings.plain_moved > 0 else []
    cost = " and ".join(lost) or "notes moved farther or more audibly"
    yield f"From step 1 they would take {fewer:,} fewer still, at the cost of {cost}."


def floor_words(plan: Plan) -> str:
    """The bound on better plans, and whether this one is proved to be the best.

    Where not every start was tried, the bound is for those that were, and nothing is called proved.
    """
    if plan.starts_tried < plan.starts_equal:
        tried = f"Of {plan.starts_equal:,} equally good starts of its songs {plan.starts_tried:,} were tried"
        bound = _bound_words(plan)
        return f"{tried}. With these, {bound[0].lower()}{bound[1:]}"
    return _bound_words(plan)


def _bound_words(plan: Plan) -> str:
    if plan.aim != Aim.LEAST_WORST:
        given = plan.aim == Aim.GIVEN
        if plan.proved:
            proved = "In this order no starts and no places of plates move fewer pins"
            return f"{proved if given else 'No order of these songs moves fewer'}: proved."
        floor = math.floor(plan.floor)
        gain = (plan.during - floor) / max(1, plan.during)
        subject = "In this order no starts" if given else "No order"
        return f"{subject} can move fewer than {floor:,}: at most {percent_text(gain, 1)} could be gained."
    if plan.proved:
        return "In no order is the most hurried swap less hurried: proved."
    if math.isinf(plan.floor):
        return "In every order there is no time at all for some swap."
    need = f"{percent_text(plan.floor)} of" if plan.floor <= _PERCENT_UP_TO else f"{plan.floor:.1f} times"
    return f"In no order can the most hurried swap need less than {need} its time."


def in_time(show: Show) -> str:
    """Whether the show waits for anything."""
    plan = show.plan
    if not any(pinned.before is not None for pinned in show.pinned):
        return "No swap is done during the show."
    worst = max(range(len(show.pinned)), key=lambda number: (plan.hurries[number], -number))
    song = one_line(show.song_of(show.pinned[worst]).title, NAME_CELLS)
    time = f"{work_time(show.pinned[worst].needed_s)} and has {free_time(show.pinned[worst].available_s or 0.0)}"
    hurried = f"the most hurried, for {song}, needs {time}"
    if math.isinf(plan.hurries[worst]):
        hurried = f"for {song} there is no time at all"
    if show.on_time:
        return f"Every set is ready in time; {hurried}."
    late = [pinned.wait_s for pinned in show.pinned if pinned.late_s]
    return f"The show waits {minutes(sum(late))} in all, for {plural(len(late), 'set')}; {hurried}."


def plan_table(show: Show) -> TextTable:
    """A line for everything that is pinned, and totals."""
    rows = [_row(show, number) for number in range(len(show.pinned))]
    during = [pinned for pinned in show.pinned if pinned.before is not None]
    moved = [sum(column) for column in zip(*map(_moved, during), strict=True)] or [0] * 3
    needed = minutes(sum(math.ceil(pinned.needed_s) for pinned in during))
    total = ("", "during the show", "", "", "", *(f"{count:,}" for count in moved), "", needed, "", "")
    below = ((11,), (2, 8), (4, 7), (3,))  # what a reader can do without at first sight, the waits being rare
    return TextTable(HEADER, [*rows, total], left=(1, 11), below=below, ruled=True)


def _row(show: Show, number: int) -> tuple[str, ...]:
    pinned = show.pinned[number]
    song = show.song_of(pinned)
    first = song.pinned[0] == number
    letter = f" {pinned.letter}" if pinned.letter else ""
    return (
        f"{printed(pinned.place)}" if first else "",
        one_line(song.title, TITLE_CELLS - len(letter)) + letter,
        minutes(show.music_s(song)) if first else "",
        f"{printed(pinned.plate_set)}",
        fraction_text(printed(pinned.start_steps)),
        *(f"{count:,}" for count in _moved(pinned)),
        f"{pinned.pins.pin_count:,}",
        work_time(pinned.needed_s),
        "before" if pinned.available_s is None else free_time(pinned.available_s),
        f"waits {minutes(pinned.wait_s)}" if pinned.late_s else "",
    )


def _moved(pinned: Pinned) -> tuple[int, int, int]:
    return pinned.swap.pull.count, pinned.swap.set_pins.count, pinned.swap.stay.count


def _facts(show: Show) -> list[Line]:
    work = show.work
    people = "1 person pins" if work.people == 1 else f"{work.people} people pin"
    rest = f", {work.rest_percent:g} % rest" if work.rest_percent else ""
    find = f", {work.find_s:g} s to find its hole" if work.find_s else ""
    pins = f"{work.pull_s:.3g} s to pull a pin, {work.set_s:.3g} s to set one{find}{rest}"
    change = f"{work.change_s:g} s to change the set on the wheel" if work.change_s else "changing sets takes no time"
    return [
        f"Wheel   {HANG}{one_line(show.wheel.name, NAME_CELLS)}, {plural(show.wheel.plate_count, 'plate')}, "
        f"{plural(len(show.carried), 'set')} of plates",
        f"Show    {HANG}{plural(len(show.songs), 'song')}, {_length(show)}",
        f"Work    {HANG}{people}: {pins}",
        f"        {HANG}{change}",
    ]


def _length(show: Show) -> str:
    """How long the show takes, without and with waits for sets that are late; whole seconds, so that they add up."""
    planned_s, waits_s = round(show.songs[-1].end_s), sum(pinned.wait_s for pinned in show.pinned)
    length = (
        f"{minutes(planned_s)} with {'talk and changes of sets' if show.work.change_s else 'the talk between them'}"
    )
    return f"{length}, {minutes(planned_s + waits_s)} with the waits too" if waits_s else length


def _chosen(show: Show) -> list[Line]:
    """Work as given, with starts and places chosen, and as planned."""
    savings = show.savings
    rows = [
        ("as listed, each from the first of its best starts, no plate moved", savings.listed),
        ("in the order given, with the best starts and places of plates", savings.given),
    ]
    if show.plan.aim != Aim.GIVEN:
        rows.append((f"as planned, in an order of {show.plan.aim.value.replace('-', ' ')}", savings.planned))
    cells = []
    for words, work in rows:
        differs = savings.listed and work != savings.listed
        share = percent_text(work / savings.listed - 1, sign="+").replace("-", "−") if differs else ""
        cells.append((f"{words}:", f"{work:,}", share))
    before = sum(pinned.swap.work for pinned in show.pinned if pinned.before is None)
    table = TextTable([""] * 3, cells, indent=_INDENT)
    return ["Pins pulled and set during the show", table, f"Before the show: {before:,}"]


def _longer(show: Show) -> Iterator[list[Line]]:
    """Running orders of songs that take several sets of plates."""
    rows = [
        f"{_INDENT}{printed(place)} {one_line(song.title, TITLE_CELLS)}: {running_summary(song.running)}"
        + (f", {song.times} times" if song.times > 1 else "")
        for place, song in enumerate(show.songs)
        if len(song.running) > 1
    ]
    if rows:
        yield ["Songs longer than a turn, the pinning of each turn:", *rows]


def _not_sounding(show: Show) -> Iterator[list[Line]]:
    """Songs of which notes are left out or dropped."""
    rows = [
        f"{printed(place)} {one_line(song.title, TITLE_CELLS)}: {count_words(song.count)}"
        for place, song in enumerate(show.songs)
        if song.count.left_out or song.count.dropped
    ]
    if rows:
        yield ["Songs of which not every note sounds, each given in the song's report:", *_sentences(rows, _INDENT)]
    if show.skipped:
        reasons = (why if file in why else f"{file}: {why}" for file, why in show.skipped)
        yield ["Not in the plan:", *_sentences(reasons, _INDENT)]


def _findings(show: Show) -> Iterator[list[Line]]:
    others = [finding for finding in show.findings if finding.code not in {"late", "late-remedy"}]
    groups = (
        ("Not in time:", [finding for finding in show.findings if finding.code == "late"]),
        ("What would help:", [finding for finding in show.findings if finding.code == "late-remedy"]),
        ("Other faults:", [finding for finding in others if finding.severity > Severity.NOTE]),
        ("Worth knowing:", [finding for finding in others if finding.severity == Severity.NOTE]),
    )
    for title, findings in groups:
        if findings:
            yield [title, *_sentences(map(_sentence, findings), _INDENT)]


def _sentence(finding: Finding) -> str:
    return f"{finding.message} ({finding.hint})" if finding.hint else finding.message


def _sentences(sentences: Iterable[str], indent: str = "") -> list[str]:
    return [f"{indent}{one_line(sentence, 6 * LINE_CELLS)}" for sentence in sentences]
