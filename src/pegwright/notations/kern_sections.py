"""The sections of a **kern file in the order in which its expansion list plays them.

Source: the Humdrum Reference, "Expansion lists": `*>[A,A,B]` gives the playing order of the sections that begin at
`*>A` and `*>B`; a list with a name before its bracket, such as `*>norep[A,B]`, is another version.
"""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise, takewhile

from pegwright.errors import InputError
from pegwright.findings import Notices
from pegwright.formats import MAX_BARS
from pegwright.musicxml.time import ordinal
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import MAX_SONG_CHARACTERS

_LIST = re.compile(r"\*>\[([^\]]*)\]")
_SECTION = re.compile(r"\*>([^\[\]\t]+)")
_BAR_NUMBER = re.compile(r"=+(\d+[a-z]?)")


def in_playing_order(lines: list[str], losses: Notices) -> tuple[list[str], list[str]]:
    """The lines with every section as often as it is played, and what is printed at every bar.

    Where the list cannot be followed the lines stay as they are, with their repeat signs.

    Args:
        lines: of one piece.
        losses: a list that is not followed is counted.

    Raises:
        InputError: the sections as played are far too long.
    """
    listed = next((match[1] for line in lines if (match := _LIST.match(line))), None)
    if listed is None:
        return _joined([(line, 0) for line in lines])
    sections = _sections(lines)
    order = [name.strip() for name in listed.split(",")]
    if not sections or set(order) - set(sections) or len(order) > MAX_BARS:
        losses.add(NotationLoss.SECTIONS)
        return _joined([(line, 0) for line in lines])
    start, end = min(first for first, _ in sections.values()), max(last for _, last in sections.values())
    played = [(line, 0) for line in lines[:start]]
    size = sum(map(len, lines))
    counts: Counter[str] = Counter()
    bodies = {name: _body(lines, *sections[name]) for name in set(order)}
    for name in order:
        size += sum(map(len, bodies[name]))
        if size > MAX_SONG_CHARACTERS:
            message = f"the sections as played hold more than {MAX_SONG_CHARACTERS:,} characters"
            raise InputError(message, where=losses.file, hint="cut the song into shorter files")
        played += [(line, counts[name]) for line in bodies[name]]
        counts[name] += 1
    return _joined([*played, *((line, 0) for line in lines[end:])])


def _sections(lines: list[str]) -> dict[str, tuple[int, int]]:
    """First line and the one after the last of every section; none where one begins in a divided spine, or is empty."""
    begins = [
        (place, section[1])
        for place, line in enumerate(lines)
        if (section := _SECTION.match(line)) and len(set(line.split("\t"))) == 1
    ]
    widths = {lines[place].count("\t") for place, _ in begins}
    names = [name for _, name in begins]
    ends = [place for place, line in enumerate(lines) if set(line.split("\t")) == {"*-"}]
    spines = next((line.count("\t") for line in lines if line.startswith("**")), -1)
    if widths != {spines} or len(set(names)) < len(names) or not ends:
        return {}
    closing = ends[-1]
    while closing and lines[closing - 1].startswith("=="):
        closing -= 1
    places = [place for place, _ in begins] + [closing]
    if any(last <= first for first, last in pairwise(places)):
        return {}
    return {name: (places[number], places[number + 1]) for number, name in enumerate(names)}


def _body(lines: list[str], first: int, last: int) -> list[str]:
    """A section as it is played: in its own metre and tempo, ending in a bar line, without repeat signs."""
    in_force = _in_force(lines[:first], lines[first:last])
    bar_line = "\t".join(["="] * (lines[first].count("\t") + 1))  # one with the next bar line, if there is one
    return [*in_force, *map(_without_repeats, lines[first:last]), bar_line]


def _in_force(before: list[str], section: list[str]) -> list[str]:
    """The last metre and tempo lines before a section that does not begin with its own, where they are full lines."""
    begin = list(takewhile(lambda line: line.startswith(("*", "!", "=")), section))
    width = section[0].count("\t")
    kept = []
    for pattern in (r"(?:^|\t)\*M\d", r"(?:^|\t)\*MM\d"):
        if not any(re.search(pattern, line) for line in begin):
            earlier = [line for line in before if line.count("\t") == width and re.search(pattern, line)]
            kept += earlier[-1:]
    return kept


def _without_repeats(line: str) -> str:
    return re.sub(r":?\|[|!]?:?|!?\|?:", "|", line) if line.startswith("=") and ":" in line else line


def _joined(lines: list[tuple[str, int]]) -> tuple[list[str], list[str]]:
    """The lines, each with how often it was played before, without empty bars, and what is printed at every bar.

    Two bar lines with no note or rest between them are one: the library would put what stands there outside all bars.
    """
    kept: list[tuple[str, int]] = []
    open_line = -1  # the bar line after which nothing has sounded yet
    for line, playing in lines:
        if not line.startswith(("*", "!", "=")):
            open_line = -1
        elif line.startswith("="):
            if open_line >= 0 and kept[open_line][0].count("\t") == line.count("\t"):
                # The one stands in the place of the first, so that metres between them come into the bar after it.
                earlier = kept[open_line][0]
                kept[open_line] = "\t".join(map(_one_of, earlier.split("\t"), line.split("\t"))), playing
                continue
            open_line = len(kept)
        kept.append((line, playing))
    return _numbered([line for line, _ in kept]), _labels(kept)


def _numbered(lines: list[str]) -> list[str]:
    """The lines with bars numbered through: without a number the library loses a grace note that begins the bar."""
    number = 0
    numbered = []
    for line in lines:
        if line.startswith("=") and not line.startswith("=="):
            number += 1
            numbered.append("\t".join(re.sub(r"^=\d*[a-z]?", f"={number}", cell) for cell in line.split("\t")))
        else:
            numbered.append(line)
    return numbered


def _one_of(earlier: str, later: str) -> str:
    """One bar line for two: the number of either, and the repeats of both."""
    number = _BAR_NUMBER.match(later) or _BAR_NUMBER.match(earlier)
    if ":" not in earlier:
        return later
    back, forth = (bool(re.search(sign, earlier + " " + later)) for sign in (r":[|!]", r"[|!]:"))
    return (
        f"={number[1] if number else ''}{':' if back else ''}|{'!|' if back and forth else '!'}{':' if forth else ''}"
    )


def _labels(lines: list[tuple[str, int]]) -> list[str]:
    """What is printed at every bar: its number; for the rest of a bar with a line inside, the number and a letter."""
    labels = []
    last, letter = "0", 0
    has_notes = False
    for line, playing in lines:
        if line.startswith("="):
            number = _BAR_NUMBER.match(line)
            letter = 0 if number else letter + 1
            last = number[1] if number else last
            has_notes = False
        elif not line.startswith(("*", "!")) and not has_notes:
            has_notes = True
            label = f"{last}{chr(ord('a') + min(letter, 25))}" if letter else last
            labels.append(f"{label}, {ordinal(playing + 1)} time" if playing else label)
    return labels
