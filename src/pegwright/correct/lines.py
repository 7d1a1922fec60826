"""Edits read from lines that people type: `move plate 3, channel 7, step 12 half to step 13 on, late`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from pegwright.correct.values import Edit, Hole, Verb
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.units import listed, nearest_hint, nearest_name, printed
from pegwright.wheel import Wheel, step_name

MAX_CHARS = 400  # of a line
FORM = "an edit is such as 'remove plate 3, channel 7, step 12 on' or 'move plate 3, channel 7, step 12 on to step 13'"
_LINE = re.compile(r"(?:(?P<letter>[A-Za-z][0-9]*)\s*:)?\s*(?P<verb>remove|set|move)\s+(?P<rest>.+)", re.IGNORECASE)
_TO = re.compile(r"\bto\b", re.IGNORECASE)
_NUMBER = re.compile(r"[0-9]{1,9}")
_STEP = re.compile(r"(?P<step>[0-9]{1,6}(?:[.][0-9]{1,6}|(?: [0-9]{1,6})?/[1-9][0-9]{0,5})?)(?:\s+(?P<row>.*))?")
_CHANNEL = re.compile(r"(?P<number>[0-9]{1,9})(?:\s*\((?P<name>.*)\))?")
_QUOTES = {"'": "'", '"': '"', "(": ")"}
_SHOWN = 60  # characters of a line that a message repeats


@frozen()
class _Words:
    """What was typed of one pin; None for what was not."""

    plate: str | None = None
    channel: str | None = None
    step: str | None = None
    pin_type: str | None = None


def _meant(line: str) -> str:
    """What a line that is not an edit may have been meant to be."""
    first = re.sub(r"^[A-Za-z][0-9]*\s*:", "", line.strip()).split(maxsplit=1)[:1]
    verb = nearest_name(first[0], list(Verb)) if first and first[0].lower() not in set(Verb) else None
    return f"did you mean {verb}? {FORM}" if verb else FORM


def read_edit(line: str, wheel: Wheel, where: str) -> Edit:
    """The edit of a line; the letter of its set of plates is in capitals.

    Args:
        line: as it was typed.
        wheel: for the names of channels, rows and pin types.
        where: the place of the line, for errors.

    Raises:
        UsageError: it is not an edit, or names what the wheel does not have.
    """
    match = _LINE.fullmatch(line.strip())
    where = f"{where} {line.strip()[:_SHOWN]!r}"
    if not match or len(line) > MAX_CHARS:
        raise UsageError("is not an edit", where=where, hint=_meant(line))
    verb, letter = Verb(match["verb"].lower()), (match["letter"] or "").upper()
    first, *others = _split_at_to(match["rest"]) if verb == Verb.MOVE else [match["rest"]]
    if len(others) != (verb == Verb.MOVE):
        raise UsageError("has no place, or more than one, to move the pin to", where=where, hint=FORM)
    words = _words(first, where)
    hole = _hole(words, wheel, where, None)
    pin_type = None if words.pin_type is None else _pin_type(words.pin_type, wheel, where)
    if verb == Verb.SET and pin_type is None:
        pin_type = plain_type(wheel)
    if not others:
        return Edit(letter, verb, hole, pin_type)
    target = _words(others[0], where)
    to_type = None if target.pin_type is None else _pin_type(target.pin_type, wheel, where)
    return Edit(letter, verb, hole, pin_type, _hole(target, wheel, where, hole), to_type)


def plain_type(wheel: Wheel) -> int:
    """The pin type of the smallest offset that is no bridge, the first of equals."""
    single = [number for number, kind in enumerate(wheel.pin_types) if not kind.bridge_mm] or [0]
    return min(single, key=lambda number: abs(wheel.pin_types[number].offset_mm))


def _split(text: str, separator: str) -> list[str]:
    """Parts of a text between commas, none of them in quotes or brackets."""
    parts, closing = [""], ""
    for mark in text:
        if closing:
            closing = "" if mark == closing else closing
        elif mark in _QUOTES and not parts[-1][-1:].isalnum():
            closing = _QUOTES[mark]
        if mark == separator and not closing:
            parts.append("")
        else:
            parts[-1] += mark
    return [part.strip() for part in parts]


def _split_at_to(text: str) -> list[str]:
    """The two sides of the word `to`, which may occur in quotes or brackets."""
    for match in _TO.finditer(text):
        left, right = text[: match.start()], text[match.end() :]
        starts = re.match(r"\s*(plate|channel|step|type|['\"]|\w)", right, re.IGNORECASE)
        if starts and left.count("(") == left.count(")") and _closed(left):
            return [left.strip().rstrip(","), right.strip()]
    return [text]


def _closed(text: str) -> bool:
    """Whether quotes that a text opens are closed in it."""
    return text.count('"') % 2 == 0 and len(re.findall(r"(?<![A-Za-z0-9])'|'(?![A-Za-z0-9])", text)) % 2 == 0


def _words(text: str, where: str) -> _Words:
    given: dict[str, str] = {}
    for part in _split(text, ","):
        key, _, rest = part.partition(" ")
        key = key.lower()
        name, value = (key, rest.strip()) if key in {"plate", "channel", "step"} else ("pin_type", part)
        if name == "pin_type" and key in {"type", "pin"} and rest.strip():
            value = rest.strip()
        if name in given or not value:
            what = name.replace("_", " ")
            raise UsageError(f"has {'two of' if value else 'no'} {what}", where=where, hint=FORM)
        given[name] = value
    return _Words(**given)


def _unquoted(text: str) -> str:
    return text[1:-1] if len(text) > 1 and text[0] == text[-1] and text[0] in "'\"" else text


def _hole(words: _Words, wheel: Wheel, where: str, otherwise: Hole | None) -> Hole:
    """The hole that is meant.

    Args:
        words: what was typed of it.
        wheel: that has it.
        where: for errors.
        otherwise: the hole that gives what was not typed; None where all must be.
    """
    lacking = [name for name in ("plate", "channel", "step") if getattr(words, name) is None]
    if lacking and otherwise is None:
        raise UsageError(f"has no {listed(lacking)}", where=where, hint=f"commas stand between them; {FORM}")
    plate = otherwise.plate if otherwise and words.plate is None else _plate(words.plate or "", wheel, where)
    channel = (
        otherwise.channel if otherwise and words.channel is None else channel_number(words.channel or "", wheel, where)
    )
    if otherwise and words.step is None:
        return Hole(channel, plate, otherwise.row, otherwise.number)
    usual = None if otherwise is None else otherwise.row
    row, index = step_hole(words.step or "", wheel, channel, where, usual)
    return Hole(channel, plate, row, index)


def _plate(text: str, wheel: Wheel, where: str) -> int:
    if not _NUMBER.fullmatch(text) or not 1 <= int(text) <= wheel.plate_count:
        raise UsageError(f"there is no plate {text[:_SHOWN]} among {wheel.plate_count}", where=where)
    return int(text) - 1


def channel_number(text: str, wheel: Wheel, where: str) -> int:
    """The number, from 0, of a channel that is given by number, name, or both: `7`, `chime F5`, `7 (chime F5)`.

    Args:
        text: as it was typed.
        wheel: with the channel.
        where: for errors.

    Raises:
        UsageError: there is none.
    """
    names = [channel.name for channel in wheel.channels]
    name = _unquoted(text)
    folded = [number for number, each in enumerate(names) if each.casefold() == name.casefold()]
    exact = [number for number in folded if names[number] == name]
    match = _CHANNEL.fullmatch(text)
    if match and not (name != text and folded):
        number = int(match["number"]) - 1
        if not 0 <= number < len(names):
            raise UsageError(f"there is no channel {text[:_SHOWN]} among {len(names)}", where=where)
        if match["name"] is not None and match["name"].strip() != names[number]:
            message = f"channel {printed(number)} is {names[number]!r}, not {match['name'][:_SHOWN]!r}"
            raise UsageError(message, where=where, hint="give the number or the name alone")
        return number
    if exact or len(folded) == 1:
        return (exact or folded)[0]
    hint = nearest_hint(name, names, "the wheel has none")
    raise UsageError(f"there is no channel {name[:_SHOWN]!r}", where=where, hint=hint)


def _pin_type(text: str, wheel: Wheel, where: str) -> int:
    names, name = [kind.name for kind in wheel.pin_types], _unquoted(text)
    for number, each in enumerate(names):
        if each.casefold() == name.casefold():
            return number
    raise UsageError(f"there is no pin type {name[:_SHOWN]!r}", where=where, hint=f"there are {listed(names)}")


def step_hole(text: str, wheel: Wheel, channel: int, where: str, usual: int | None = None) -> tuple[int, int]:
    """Row and number in it of the hole at a step: `12`, `12.5 half`; `12 half` is the one half hole after step 12.

    Args:
        text: as it was typed.
        wheel: with the hole.
        channel: whose rows are meant.
        where: for errors.
        usual: the row that is taken where the step alone leaves several.

    Raises:
        UsageError: there is no such hole, or more than one.
    """
    match = _STEP.fullmatch(text.strip())
    if not match:
        raise UsageError(f"step {text[:_SHOWN]!r} is not such as 12, 12.5 half or 4 2/3 triplet", where=where)
    step = sum((Fraction(part) for part in match["step"].split()), Fraction(0))
    if not 1 <= step < wheel.steps_per_plate + 1:
        message = f"step {match['step']} is not on the plate, whose steps are 1 to {wheel.steps_per_plate}"
        raise UsageError(message, where=where)
    rows = _rows(_unquoted((match["row"] or "").strip()), wheel, channel, where)
    exact = [(row, index) for row in rows for index, at in _steps(wheel, row) if at == step]
    holes = exact
    if not exact and match["row"] and step.denominator == 1:
        holes = [(row, index) for row in rows for index, at in _steps(wheel, row) if step <= at < step + 1]
    if len(holes) > 1 and usual is not None:
        holes = [hole for hole in holes if hole[0] == usual] or holes
    if len(holes) == 1:
        return holes[0]
    raise UsageError(_no_single(wheel, rows, holes, step, match["step"]), where=where)


def _rows(name: str, wheel: Wheel, channel: int, where: str) -> Sequence[int]:
    """The rows of a channel, or the one of a name."""
    own = [number for number, row in enumerate(wheel.rows) if row.name in wheel.channels[channel].rows]
    if not name:
        return own
    named = [number for number in own if wheel.rows[number].name.casefold() == name.casefold()]
    if not named:
        rows = [wheel.rows[number].name for number in own]
        message = f"{wheel.channels[channel].name} has no row {name[:_SHOWN]!r}"
        raise UsageError(message, where=where, hint=f"it has {listed(rows)}")
    return named


def _steps(wheel: Wheel, row: int) -> list[tuple[int, Fraction]]:
    places = wheel.rows[row].positions_steps(wheel.steps_per_plate)
    return [(index, printed(place)) for index, place in enumerate(places)]


def _no_single(wheel: Wheel, rows: Sequence[int], holes: list[tuple[int, int]], step: Fraction, typed: str) -> str:
    """Why a step means no single hole."""
    if holes:
        names = [f"step {step_name(wheel.rows[row], index)} {wheel.rows[row].name}" for row, index in holes]
        return f"step {typed} can be {listed(names)}: say which"
    near = min(
        ((abs(at - step), row, index) for row in rows for index, at in _steps(wheel, row)), default=(Fraction(0), 0, 0)
    )
    row = wheel.rows[near[1]]
    return f"there is no hole at step {typed}; the nearest is step {step_name(row, near[2])} {row.name}"
