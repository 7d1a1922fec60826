"""What is printed of a song: its pin sheets, call lists and pin count as one document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.draw.bars import BarMark, bar_marks
from pegwright.draw.call_list import call_pages, still_places
from pegwright.draw.cover import Cover
from pegwright.draw.document import Document, PrintSection, document
from pegwright.draw.label_strip import label_pages
from pegwright.draw.paper import Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.plate_page import SheetNotes, bare_plates, edition_words
from pegwright.draw.sheet_style import SheetStyle
from pegwright.draw.swap_sheet import swap_sheets
from pegwright.frozen import frozen
from pegwright.note_count import NoteCount
from pegwright.placement import PinMap
from pegwright.show.count import PinCount
from pegwright.show.swap import EMPTY_TITLE, swap
from pegwright.song import FittedSong, PinnedSong, PinnedTurn
from pegwright.swapping import Swap
from pegwright.tell.counts import count_words, damage_words, doubtful_words
from pegwright.units import listed, plural, printed
from pegwright.wheel import Wheel
from pegwright.write.count.pages import song_count_pages
from pegwright.write.count.tables import verdict
from pegwright.write.qr import map_qr

ALL_OF_IT = "turn 1 of 1"
PIN_SHEETS, SWAP_SHEETS, CALL_LIST, PIN_COUNT, LABELS = (
    "Pin sheets",
    "Swap sheets",
    "Call list",
    "Pin count",
    "Channel labels",
)


@frozen(eq=False)
class PrintedSet:
    """One set of plates of a song, ready to be drawn.

    Args:
        letter: of the set; empty where the song takes one turn.
        pins: its pin map.
        bars: where the song's bars fall on the turn.
        notes: what its pages say beside the pins.
    """

    letter: str
    pins: PinMap
    bars: tuple[BarMark, ...]
    notes: SheetNotes


@frozen(eq=False)
class PrintedSong:
    """A song, ready to be drawn.

    Args:
        title: of the song.
        wheel: the wheel.
        sets: its sets of plates.
        outcome: the count of its notes, where its score is known.
    """

    title: str
    wheel: Wheel
    sets: tuple[PrintedSet, ...]
    outcome: NoteCount | None = None


@frozen(eq=False)
class FromPlates:
    """What plates carry before a song is pinned on them.

    Args:
        old: their pin map; None for empty plates.
        swaps: from there to each set of plates of the song.
    """

    old: PinMap | None
    swaps: tuple[Swap, ...]


def from_plates(old: PinMap, song: FittedSong | PinnedSong) -> FromPlates:
    """The swaps from what plates carry to each set of plates of a song.

    Args:
        old: what they carry; a map without pins for empty plates.
        song: fitted, or read from pin maps.
    """
    fixed = () if old.pin_count else range(song.wheel.plate_count)
    swaps = tuple(swap(old, turn.pins, song.wheel, fixed) for turn in song.pinnings)
    return FromPlates(old if old.pin_count else None, swaps)


def printed_song(song: FittedSong | PinnedSong, style: SheetStyle) -> PrintedSong:
    """A song as it is printed, fitted or read from pin maps.

    Args:
        song: on its wheel.
        style: of its sheets.
    """
    if isinstance(song, FittedSong):
        sets = tuple(_fitted_set(song, pinning, style) for pinning in range(len(song.pinnings)))
        return PrintedSong(song.score.title, song.wheel, sets, song.count)
    sets = tuple(
        PrintedSet(song.letter(pinning), turn.pins, pinned_bars(turn), _pinned_notes(song, pinning, style))
        for pinning, turn in enumerate(song.pinnings)
    )
    return PrintedSong(song.title, song.wheel, sets)


def place_words(song: FittedSong, pinning: int) -> str:
    """Which turns and bars of a song a pinning plays, which distinguishes two cuts of one song."""
    return song.place_of(pinning) or f"{ALL_OF_IT}, {song.bars_of(0)}"


def pinned_bars(turn: PinnedTurn) -> tuple[BarMark, ...]:
    """The bars that a pin map gives of a turn, as sheets mark them."""
    return tuple(BarMark(bar.position_steps, bar.label, bar.beats) for bar in turn.bars)


def song_document(song: PrintedSong, count: PinCount, start: FromPlates, paper: Paper, style: SheetStyle) -> Document:
    """The document by which a song is pinned; where the plates carry pins, there are swap sheets too.

    Args:
        song: ready to be drawn.
        count: of its pins.
        start: what the plates carry.
        paper: that it is printed on.
        style: of its sheets.

    Raises:
        UsageError: a page is asked for that the document does not have.
    """
    sections: list[PrintSection] = []
    for each, moves in zip(song.sets, start.swaps, strict=True):
        sheets = pin_sheets(song.wheel, each.pins, each.bars, paper, each.notes)
        parts = [PrintSection(PIN_SHEETS, sheets, facts=_pins_words(song.wheel, each.pins), sheets=True)]
        bars = each.bars if start.old else None
        parts += swap_sections(song.wheel, moves, (start.old, each.pins), paper, each.notes, bars)
        sections += [PrintSection(f"Set of plates {each.letter}", parts=tuple(parts))] if each.letter else parts
    sections += count_sections(song, count, paper)
    sections += label_sections(song.wheel, paper, style)
    kinds = [
        PIN_SHEETS,
        *([SWAP_SHEETS] if start.old else []),
        CALL_LIST,
        PIN_COUNT,
        *([LABELS] if style.labels else []),
    ]
    cover = Cover(song.title, listed(kinds).capitalize(), tuple(_cover_facts(song)))
    return document(cover, sections, paper, style)


def swap_document(wheel: Wheel, swap: Swap, maps: tuple[PinMap, PinMap], paper: Paper, style: SheetStyle) -> Document:
    """The document by which plates that carry one pin map are made to carry another.

    Args:
        wheel: the wheel.
        swap: what moves.
        maps: what the plates carry, and what they are to carry.
        paper: that it is printed on.
        style: of its sheets.

    Raises:
        UsageError: a page is asked for that the document does not have.
    """
    old, new = maps
    notes = SheetNotes(qr=map_qr(new), style=style)
    sections = [*swap_sections(wheel, swap, maps, paper, notes, ()), *label_sections(wheel, paper, style)]
    words = " · ".join(edition_words(new, notes, old if old.pin_count else None)[:-1])  # the wheel's name is above
    facts = (wheel_words(wheel), f"Plates that carry {old.title} are made to carry {new.title}.", words)
    return document(Cover(new.title, "Swap sheets and call list", facts), sections, paper, style)


def wheel_words(wheel: Wheel) -> str:
    """The wheel by its name and how many plates it has."""
    return f"{wheel.name}, {plural(wheel.plate_count, 'plate')}"


def swap_sections(
    wheel: Wheel,
    swap: Swap,
    maps: tuple[PinMap | None, PinMap],
    paper: Paper,
    notes: SheetNotes,
    bars: Sequence[BarMark] | None,
) -> list[PrintSection]:
    """The sheets and the call list of a swap.

    Args:
        wheel: the wheel.
        swap: what moves.
        maps: what the plates carry, None where they are empty, and what they are to carry.
        paper: that they are printed on.
        notes: what the pages say beside the pins.
        bars: where the new song's bars fall; None where there are to be no swap sheets.
    """
    old, new = maps
    old = old if old and old.pin_count else None
    sections = []
    if bars is not None:
        sheets = swap_sheets(wheel, swap, old, new, bars, paper, notes)
        moves = f"pull {swap.pull.count:,}, set {swap.set_pins.count:,}, {swap.stay.count:,} stay"
        moves += _there("no pins at place", bare_plates(wheel, swap.pull, swap.set_pins, swap.stay))
        sections.append(PrintSection(SWAP_SHEETS, sheets, facts=moves, sheets=True))
    start = f"from {old.title if old else EMPTY_TITLE}" + _there("nothing to do at place", still_places(swap))
    calls = call_pages(wheel, swap, old, new, paper, notes)
    return [*sections, PrintSection(CALL_LIST, calls, facts=start)]


def _pins_words(wheel: Wheel, pins: PinMap) -> str:
    """How many pins there are, and which plates have none and so no sheet."""
    return plural(pins.pin_count, "pin") + _there("none on plate", bare_plates(wheel, pins))


def _there(words: str, plates: Sequence[int]) -> str:
    """`; none on plates 2 and 3`, of plates or places given 0-based; empty where there is none."""
    numbers = [str(printed(plate)) for plate in plates]
    return f"; {words}{'s' if len(numbers) > 1 else ''} {listed(numbers)}" if numbers else ""


def count_sections(song: PrintedSong, count: PinCount, paper: Paper) -> list[PrintSection]:
    """The pin count of a song.

    Args:
        song: ready to be drawn.
        count: of its pins.
        paper: held upright.
    """
    pages = song_count_pages(count, paper, song.outcome, song.title)
    return [PrintSection(PIN_COUNT, pages, facts=verdict(count.needs, [need.name for need in count.needs]))]


def label_sections(wheel: Wheel, paper: Paper, style: SheetStyle) -> list[PrintSection]:
    """The strip of channel labels where it is asked for.

    Args:
        wheel: its channels.
        paper: for what is printed.
        style: says whether it is asked for.

    Raises:
        UsageError: the channels are too near or too far apart for it.
    """
    return [PrintSection(LABELS, label_pages(wheel, paper, style), facts="to cut out")] if style.labels else []


def _cover_facts(song: PrintedSong) -> Iterator[str]:
    yield wheel_words(song.wheel)
    if song.outcome:
        yield f"{count_words(song.outcome)}."
    if len(song.sets) > 1:
        yield f"Sets of plates {listed([each.letter for each in song.sets])}, one after another."
    for each in song.sets:
        words = " · ".join(edition_words(each.pins, each.notes)[:-1])  # the wheel's name is above
        yield f"{f'Set {each.letter}: ' if each.letter else ''}{plural(each.pins.pin_count, 'pin')} · {words}"


def _fitted_set(song: FittedSong, pinning: int, style: SheetStyle) -> PrintedSet:
    turn, wheel = song.pinnings[pinning], song.wheel
    placement = turn.placement
    words = count_words(song.count)
    notes = SheetNotes(
        start_steps=placement.start_ticks / (wheel.step_quarters * placement.resolution),
        outcome=f"Whole song: {words[0].lower()}{words[1:]}; see the report.",
        qr=map_qr(turn.pins),
        place=place_words(song, pinning),
        remarks=tuple(filter(None, [damage_words(song.report), doubtful_words(turn.score)])),
        style=style,
    )
    return PrintedSet(song.letter(pinning), turn.pins, tuple(bar_marks(turn.score, wheel, placement)), notes)


def _pinned_notes(song: PinnedSong, pinning: int, style: SheetStyle) -> SheetNotes:
    turn = song.pinnings[pinning]
    return SheetNotes(
        start_steps=turn.start_steps, qr=map_qr(turn.pins), place=_pinned_place(song, pinning), style=style
    )


def _pinned_place(song: PinnedSong, pinning: int) -> str:
    """Which turns a pinning plays: `turns 1, 2 and 4`; empty in a song of one turn."""
    if not song.several_turns:
        return ""
    turns = [str(printed(turn)) for turn in song.turns_of(pinning)]
    return f"turn{'s' if len(turns) > 1 else ''} {listed(turns)}"
