"""What is wrong with a text that is not TOML, and what to write instead: the slips that people make most."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator

from pegwright.config.checks import seen
from pegwright.config.lines import HEADER, KEY, without_remark, without_texts
from pegwright.errors import PegwrightError

_MAX_SHOWN = 60  # characters of a line that a hint repeats
_AT = re.compile(r" \(at (?:line ([0-9]+), column [0-9]+|end of document)\)$")
_ASSIGNED = re.compile(r"\s*(?P<key>[A-Za-z0-9_.\"'-]+)\s*=\s*(?P<value>.*?)\s*")
_COMMA = re.compile(r"([+-]?[0-9]+),([0-9]+)")
_UNIT = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?)\s*(?:[A-Za-z°]+|\"|”|″|'|%)")
_CURLY = re.compile(r"[\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u2019\u201a\u2039\u203a\u2033\u2032]")
_WORD = re.compile(r"[^\W\d][^\"'\[\]{},=]*|[0-9]+\s*/\s*[0-9]+")
_UNQUOTED = re.compile(r"(?<![\"'\w/.#♯♭-])([A-Za-z][\w#♯♭-]*(?: [\w#♯♭-]+)*|[0-9]+\s*/\s*[0-9]+)(?![\"'\w/])")
_NO_EQUALS = re.compile(r"\s*(?P<key>[A-Za-z0-9_-]+)(?:\s*:\s*|\s+)(?P<value>[^=\s][^=]*?)\s*")
_PATH = re.compile(r'\s*(?P<key>[A-Za-z0-9_-]+)\s*=\s*"(?P<path>[^"]*\\[^"]*)"?\s*(?:#.*)?')
_ZERO = re.compile(r"(?<![\w.:-])0+([0-9]+)(?![\w.:-])")
_ENDED = re.compile(r"""(?P<value>[+-]?[0-9.]+|"[^"]*"|'[^']*'|true|false)\s*(?P<mark>[,;]?)\s*(?P<rest>.*)""")
_YES_NO = {"true": "true", "false": "false", "yes": "true", "no": "false", "on": "true", "off": "false"}
_LITERALS = {"true", "false", "inf", "nan"}


def slip_in(text: str, error: Exception) -> PegwrightError:
    """What to say of a text that is not TOML: the line, what is wrong there and what to write, in one line.

    Args:
        text: of the file.
        error: that reading it raised.
    """
    if not isinstance(error, tomllib.TOMLDecodeError):
        return PegwrightError("not valid TOML: too deep or too long", hint="take some out, or write it more simply")
    message = " ".join(str(error).split())
    at, lines = _AT.search(message), text.splitlines()
    number = int(at[1]) if at and at[1] else len(lines)
    reason = _AT.sub("", message)[:200]
    for line in dict.fromkeys((number, number - 1)):  # a text without its second quote is noticed a line later
        if 1 <= line <= len(lines) and lines[line - 1].expandtabs().isprintable():  # else a control is what is wrong
            for slip in _SLIPS:
                if answer := next(slip(lines, line, reason), None):
                    wrong, hint = answer
                    return PegwrightError(f"line {line}: {wrong}", hint=hint)
    hint = "texts need quotes, lists need commas, each key may appear only once"
    return PegwrightError(f"not valid TOML: {message[:200]}", hint=hint)


_Found = Iterator[tuple[str, str]]  # what is wrong and what to write, or nothing


def _again(lines: list[str], number: int, reason: str) -> _Found:
    """A table or a key that occurs before."""
    if not re.match(r"Cannot (declare|overwrite|mutate)|Duplicate", reason):
        return
    header = HEADER.fullmatch(lines[number - 1])
    if header:
        name = header["name"]
        earlier = [n for n, line in enumerate(lines[: number - 1], 1) if _heads(line, name)]
        place = f", the first is in line {earlier[0]}" if earlier else ""
        if name in _LISTS:
            yield f"a second [{name}]{place}", f"head each of them with [[{name}]], in double brackets"
        else:
            yield f"a second [{name}]{place}", "put its keys under the first one"
    elif key := KEY.match(lines[number - 1]):
        name = key["name"]
        since = max((n for n, line in enumerate(lines[: number - 1], 1) if HEADER.fullmatch(line)), default=0)
        earlier = [n for n in range(since + 1, number) if (m := KEY.match(lines[n - 1])) and m["name"] == name]
        place = f", the first is in line {earlier[0]}" if earlier else ""
        yield (
            f"a second {name} in one table{place}",
            "keep one of the two; each channel or row has a heading of its own",
        )


_LISTS = {"channel", "channels", "row", "pin_type", "lost", "limit", "song", "seam"}


def _heads(line: str, name: str) -> bool:
    match = HEADER.fullmatch(line)
    return match is not None and match["name"] == name


def _curly(lines: list[str], number: int, _: str) -> _Found:
    line = lines[number - 1]
    if mark := _CURLY.search(line):
        straight = _CURLY.sub('"', line).strip()
        yield f"{mark[0]} is not a quote that TOML knows", f"write it with straight ones: {_short(straight)}"


def _comma(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if match := _COMMA.fullmatch(value):
        yield f"{value} has a decimal comma", f"write {key} = {match[1]}.{match[2]}"


def _unit(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if match := _UNIT.fullmatch(value):
        yield f"{_short(value)} is more than a number", f"write {key} = {match[1].replace(',', '.')}"


def _windows_path(lines: list[str], number: int, _: str) -> _Found:
    if match := _PATH.fullmatch(lines[number - 1]):
        path = match["path"]
        quoted = f"'{path}'" if "'" not in path else f'"{path.replace(chr(92), "/")}"'
        yield "a path with \\ cannot stand in double quotes", f"write {match['key']} = {_short(quoted)}"


def _open_quote(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if value[:1] in {'"', "'"} and value.count(value[0]) == 1:
        yield (
            f"the quote before {_short(value[1:]) or 'the end'} is not closed",
            (f"write {key} = {_short(value + value[0])}"),
        )


def _unquoted(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if value.lower() in _YES_NO:
        yield f"{value} is not a value that TOML knows", f"write {key} = {_YES_NO[value.lower()]}"
    elif _WORD.fullmatch(value) and value not in _LITERALS:
        yield f"{_short(value)} has no quotes", f'write {key} = "{_short(value)}"'
    elif value.startswith("["):
        outside = without_texts(value)
        bare = [match for match in _UNQUOTED.finditer(outside) if match[0] not in _LITERALS]
        for match in reversed(bare):
            value = f'{value[: match.start()]}"{match[0]}"{value[match.end() :]}'
        if bare:
            yield f"{_short(bare[0][0])} has no quotes", f"write {key} = {_short(value)}"


def _no_equals(lines: list[str], number: int, _: str) -> _Found:
    line = without_remark(lines[number - 1])
    if not line.lstrip().startswith(("#", "[")) and (match := _NO_EQUALS.fullmatch(line)):
        yield "there is no = between key and value", f"write {match['key']} = {_short(match['value'])}"


def _leading_zero(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if match := _ZERO.search(without_texts(value)):
        whole = f"{value[: match.start()]}{match[1]}{value[match.end() :]}"
        yield f"{match[0]} begins with 0", f"write {key} = {_short(whole)}"


def _open_list(lines: list[str], number: int, reason: str) -> _Found:
    if not reason.startswith("Unclosed array"):
        return
    for line in range(number, 0, -1):
        key, value = _parts(lines[line - 1])
        if value.startswith("["):
            outside, of = without_texts(value), "" if line == number else f" of line {line}"
            if outside.count("[") > outside.count("]"):
                yield f"the list{of} is not closed", f"write {key} = {_short(value.rstrip(', ') + ']')}"
            return


def _goes_on(lines: list[str], number: int, _: str) -> _Found:
    key, value = _parts(lines[number - 1])
    if (match := _ENDED.match(value)) and (other := _ASSIGNED.fullmatch(match["rest"])):
        yield (
            "two keys stand in one line",
            f"write {other['key']} = {_short(other['value'])} on a line of its own",
        )
    elif match and match["mark"] and not match["rest"]:
        yield f"{match['mark']} follows the value", f"write {key} = {_short(match['value'])}"


def _parts(line: str) -> tuple[str, str]:
    """Key and value of a line that assigns one, without the remark at its end; else nothing."""
    match = _ASSIGNED.fullmatch(without_remark(line))
    return (match["key"], match["value"]) if match else ("", "")


def _short(text: str) -> str:
    return text if len(text) <= _MAX_SHOWN else seen(text)


_SLIPS: tuple[Callable[[list[str], int, str], _Found], ...] = (
    _again,
    _curly,
    _comma,
    _windows_path,
    _goes_on,
    _leading_zero,
    _unit,
    _open_quote,
    _unquoted,
    _open_list,
    _no_equals,
)
