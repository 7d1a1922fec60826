"""A song file as text, which reading gives back: `config/song_file.py`."""

from __future__ import annotations

import json
import os
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from pegwright.ask.kinds import BarRange, NamedValues, Number, OptionKind, Ratio
from pegwright.ask.request import Played
from pegwright.ask.song_file import SongFile
from pegwright.ask.table import BY_NAME, Value
from pegwright.ask.text import bars_text, shortest_text
from pegwright.units import ratio_text

HEAD = "# A song with all that its pins need, for `pegwright fit`, `pin`, `hear` and the others: docs/song-file.md"
_LINE_CHARS = 100


def song_file_bytes(file: SongFile, remarks: tuple[str, ...] = ()) -> bytes:
    """A song file as TOML.

    Args:
        file: what it holds; its path says from where paths in it lead.
        remarks: lines that begin with `#`, to be kept at its beginning.
    """
    folder = file.path.absolute().parent
    values: dict[str, object] = {"score": _path_from(folder, file.score)}
    if file.sha256:
        values["sha256"] = file.sha256
    if file.wheel:
        values["wheel"] = _path_from(folder, file.wheel)
    for name, value in file.given.items():
        option = BY_NAME[name]
        plain = Decimal(shortest_text(value, option)) if isinstance(option.kind, Number) else None
        values[option.key] = _plain(option.kind, value, folder) if plain is None else plain
    if file.taken:
        values["taken"] = list(file.taken)
    lines = [_line(key, value) for key, value in values.items()]
    return "\n".join([*dict.fromkeys((HEAD, *remarks)), *lines, ""]).encode()


def _path_from(folder: Path, path: Path) -> str:
    """A path as it leads from a folder, with `/`; absolute where the two have no folder in common."""
    try:
        return Path(os.path.relpath(path.absolute(), folder)).as_posix()
    except ValueError:  # on different drives
        return path.absolute().as_posix()


def _plain(kind: OptionKind, value: Value, folder: Path) -> object:
    """The written value of an option as TOML has it."""
    plain: object = value
    match value:
        case Played():
            file = value.beats_file
            plain = str(value) if file is None else _marked(_path_from(folder, file))
        case Fraction() if isinstance(kind, Ratio):
            plain = ratio_text(value)
        case Fraction():
            plain = int(value) if value.denominator == 1 else str(value)
        case tuple() if isinstance(kind, BarRange):
            plain = bars_text(value)
        case tuple():
            plain = dict(value) if isinstance(kind, NamedValues) else [str(each) for each in value]
    return plain


def _marked(path: str) -> str:
    """A path that is recognised as one by its point or slash."""
    return path if "." in path or "/" in path else f"./{path}"


def _line(key: str, value: object) -> str:
    line = f"{key} = {_text(value)}"
    if len(line) <= _LINE_CHARS or not isinstance(value, list):
        return line
    return "\n".join([f"{key} = [", *(f"    {_text(item)}," for item in value), "]"])


def _text(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
        case list():
            return f"[{', '.join(map(_text, value))}]"
        case dict():
            return f"{{ {', '.join(f'{_text(str(key))} = {_text(inner)}' for key, inner in value.items())} }}"
    return str(value)
