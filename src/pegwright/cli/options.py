"""Options that several commands share, and the request that they make."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from pegwright.ask.beat_shifts import beat_shift_of
from pegwright.ask.kinds import Beats, BeatShifts, Flag, NamedValues, NamePatterns, NoteEdits, OrAuto, TurnStep, Whole
from pegwright.ask.note_edits import note_edit_of
from pegwright.ask.request import AUTO, played_by
from pegwright.ask.table import BY_NAME, MAX_TURN_STEPS, OPTIONS, OUTPUT_OPTIONS, TEMPO, Option, Topic, Value, opens
from pegwright.cli.grouped import option as grouped_option
from pegwright.cli.kinds import NamedPath, type_of
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.wheel import Wheel

Command = TypeVar("Command", bound=Callable[..., Any])

DEFAULT_WHEEL = "wheel.toml"
_WHEEL_NAMES = ("-w", "--wheel", "wheel_path")


def _wheel_option(text: str) -> Callable[[Command], Command]:
    return grouped_option(
        *_WHEEL_NAMES, topic=Topic.PLACING, type=NamedPath(), default=DEFAULT_WHEEL, show_default=True, help=text
    )


start_option = grouped_option(
    "--start",
    type=type_of(TurnStep(MAX_TURN_STEPS)),
    metavar="STEP",
    help="Step of the turn where the song begins, of a folder that has CSV files and no map; else 1.",
)
wheel_option = _wheel_option("The wheel file, in place of that of a song file.")
map_wheel_option = _wheel_option("The wheel file of the machine that the map is for.")


def fit_options(
    command: Command,
    start: Value = BY_NAME["start"].default,
    without: Collection[str] = (),
    hidden: Collection[str] = (),
) -> Command:
    """Add the options that say what to fit and how.

    Args:
        command: to add them to.
        start: default of `--start`.
        without: names of options that the command does not have.
        hidden: names of options that the command takes, and `--help` does not list.
    """
    for option in reversed(OPTIONS):  # --help lists them in order then
        if option.name not in without:
            default = start if option.name == "start" else option.default
            command = click_option(option, default, hidden=option.name in hidden)(command)
    return command


def output_options(command: Command) -> Command:
    """Add the options of commands that write pin sheets and counts."""
    for option in reversed(OUTPUT_OPTIONS):
        command = click_option(option, option.default)(command)
    return command


def new_option(default: str, what: str) -> Callable[[Command], Command]:
    """The option `--new` of a command that can write a file to begin with.

    Args:
        default: the file's name where none is given.
        what: it writes, for the help.
    """
    return grouped_option(
        "--new",
        "new_path",
        type=NamedPath(),
        is_flag=False,
        flag_value=Path(default),
        metavar="[PATH]",
        help=f"Write {what} instead ({default} if no path is given).",
    )


def tempo_option(text: str, default: float | None = 120.0) -> Callable[[Command], Command]:
    """The option `--tempo` of a command that turns lengths into times.

    Args:
        text: of the help.
        default: quarter notes a minute where it is not given; None where there is none.
    """
    return grouped_option(
        "--tempo",
        type=type_of(TEMPO),
        default=default,
        show_default=default is not None,
        metavar="QUARTERS_A_MINUTE",
        help=text,
    )


def click_option(option: Option, default: Value, hidden: bool = False) -> Callable[[Command], Command]:
    """The option of a command.

    Args:
        option: from the table.
        default: its value where it is not given.
        hidden: whether `--help` leaves it out.
    """
    if isinstance(option.kind, Flag):
        return grouped_option(option.typed, topic=option.group, is_flag=True, help=option.help, hidden=hidden)
    text = None if default is None else str(default)
    return grouped_option(
        option.typed,
        topic=option.group,
        type=type_of(option.kind),
        multiple=isinstance(option.kind, NamedValues | NamePatterns | NoteEdits | BeatShifts),
        default=None if option.goes_with else text,  # whether it was given matters
        show_default=text if option.goes_with else text is not None,
        metavar=option.metavar,
        help=option.help,
        hidden=hidden,
    )


def load_wheel(path: Path) -> Wheel:
    """The wheel of a file; if there is none, the error says how to make one."""
    from pegwright.config import load_wheel as load  # noqa: PLC0415  # keeps numpy out of --help

    if not path.exists() and path == Path(DEFAULT_WHEEL):
        hint = "name a wheel file with --wheel FILE, or write one with `pegwright wheel --new`"
        raise UsageError(f"no {DEFAULT_WHEEL} in this folder", where="--wheel", hint=hint)
    return load(path)


def value_of(option: Option, given: Mapping[str, Value]) -> Value:
    """The written value of an option.

    Args:
        option: of a song.
        given: what click read, by names of options.

    Raises:
        UsageError: it is out of its bounds, or given without the option it goes with.
    """
    value = given.get(option.name)
    if option.goes_with and value not in (None, ()) and not opens(given[option.goes_with]):
        other = BY_NAME[option.goes_with]
        needed = f"{other.typed} {AUTO}" if isinstance(other.kind, OrAuto) else other.typed
        raise UsageError(f"goes with {needed}", where=option.typed, hint=f"add {needed}, or leave it out")
    match option.kind:
        case Beats() if value is not None:
            return _read(lambda words: played_by(words, Path()), value, option)
        case NamedValues():
            return tuple(_pair(text, option, option.kind) for text in value or ())
        case NamePatterns():
            return tuple(_pattern(text, option) for text in value or ())
        case NoteEdits():
            return tuple(_read(note_edit_of, text, option) for text in value or ())
        case BeatShifts():
            return tuple(_read(beat_shift_of, text, option) for text in value or ())
    return value


def _read(read: Callable[[str], Value], text: str, option: Option) -> Value:
    try:
        return read(text)
    except UsageError as error:
        raise UsageError(error.message, where=option.typed, hint=error.hint) from None


def _pattern(text: str, option: Option) -> str:
    if not text.strip():
        raise UsageError("the name is blank", where=option.typed, hint="give the name of a part, or a pattern of names")
    return text.strip()


def _pair(text: str, option: Option, kind: NamedValues) -> tuple[str | int, str | int]:
    name, equals, number = text.rpartition("=")
    if not equals or not name.strip() or not number.strip():
        form = "NAME=NUMBER" if isinstance(kind.value, Whole) else option.metavar
        raise UsageError(f"{text[:40]!r} is not of the form {form}", where=option.typed)
    value = _whole(number.strip(), option, kind.value) if isinstance(kind.value, Whole) else number.strip()
    return _whole(name.strip(), option, kind.key) if kind.key else name.strip(), value


def _whole(text: str, option: Option, bounds: Whole) -> int:
    span = f"{bounds.minimum} to {bounds.maximum}"
    if not re.fullmatch(r"\s*[+-]?[0-9]{1,9}\s*", text):
        raise UsageError(f"{text[:40]!r} is not a whole number", where=option.typed, hint=f"give one from {span}")
    if not bounds.minimum <= int(text) <= bounds.maximum:
        raise UsageError(f"{int(text)} is outside {span}", where=option.typed)
    return int(text)
