"""Options that several commands share, and the request they add up to."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.request import Played, Request
    from pegwright.wheel import Wheel

Command = TypeVar("Command", bound=Callable[..., Any])

AUTO = "auto"
DEFAULT_WHEEL = "wheel.toml"
CHANNEL_RULES = ("prefer", "alternate", "spread")
PAPERS = ("a4", "a3", "letter")  # a test holds them to what draw/paper.py knows, which --help must not load
TEMPO_RANGE = (1.0, 1000.0)


class BarsType(click.ParamType[tuple[int, int]]):
    """`5-16`, or `5` for a single bar."""

    name = "bars"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        """First and last bar."""
        text = str(value)
        match = re.fullmatch(r"\s*(\d{1,6})\s*(?:-\s*(\d{1,6})\s*)?", text)
        if not match:
            self.fail(f"{text[:40]!r} is not a range of bars such as 5-16", param, ctx)
        first = int(match[1])
        last = int(match[2] or match[1])
        if not 1 <= first <= last:
            self.fail(f"{text!r} must run upwards from bar 1 or later", param, ctx)
        return first, last


class FractionType(click.ParamType[Fraction]):
    """A whole number, a decimal or a fraction such as `1/64`, kept exact."""

    name = "number"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """The exact value."""
        text = str(value)
        if not re.fullmatch(r"[+-]?\d{1,9}(\.\d{1,9}|/0*[1-9]\d{0,8})?", text):
            self.fail(f"{text[:40]!r} is not a number such as 3, 2.5 or 1/64", param, ctx)
        return Fraction(text)


class Auto(click.ParamType[Any]):
    """A value of another type, or `auto`, which becomes None: to be searched for."""

    def __init__(self, inner: click.ParamType[Any]) -> None:
        self.inner = inner
        self.name = f"{inner.name}|{AUTO}"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The inner type's value, or None for `auto`."""
        return None if value == AUTO else self.inner.convert(value, param, ctx)


class OffsetType(click.ParamType["int | str"]):
    """`auto`, or a whole number of the file's ticks."""

    name = "auto|ticks"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int | str:
        """`auto` or the ticks."""
        text = str(value)
        if text == AUTO:
            return text
        if not re.fullmatch(r"[+-]?\d{1,9}", text):
            self.fail(f"{text[:40]!r} is neither auto nor a whole number of ticks", param, ctx)
        return int(text)


class RatioType(click.ParamType[Fraction]):
    """`2:1`, two whole numbers."""

    name = "ratio"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """First over second."""
        match = re.fullmatch(r"(\d{1,4}):0*([1-9]\d{0,3})", str(value))
        if not match:
            self.fail(f"{str(value)[:40]!r} is not a ratio such as 2:1", param, ctx)
        return Fraction(int(match[1]), int(match[2]))


class FiniteRange(click.FloatRange):
    """A range that `nan` is not in; click's own lets it pass, for no comparison holds of it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401  # click's signature
        """The number."""
        if str(value).strip().lower().lstrip("+-") == "nan":
            self.fail(f"{value!r} is not a number", param, ctx)
        return float(super().convert(value, param, ctx))


def wheel_option(command: Command) -> Command:
    """Add `--wheel`."""
    return click.option(
        "-w",
        "--wheel",
        "wheel_path",
        type=click.Path(path_type=Path),
        default=DEFAULT_WHEEL,
        show_default=True,
        help="The wheel file.",
    )(command)


def fit_options(command: Command, start: str = "1") -> Command:
    """Add the options that say what to fit and how; `start` is where a song begins if nothing is said."""
    return _with(command, *_options_of_the_song(start), *_options_of_the_music(), *_options_of_the_fit())


def _options_of_the_song(start: str) -> tuple[Callable[[Command], Command], ...]:
    return (
        click.option("--bars", type=BarsType(), help="Take only these bars, as played: 5-16."),
        click.option(
            "--start",
            type=Auto(FractionType()),
            default=start,
            show_default=True,
            metavar="STEP|auto",
            help="Step of the turn where the song begins; auto finds the best.",
        ),
        click.option(
            "--transpose",
            type=Auto(click.IntRange(-127, 127)),
            default="0",
            show_default=True,
            metavar="SEMITONES|auto",
            help="Move every pitch up, or down if negative; auto finds the best.",
        ),
        click.option(
            "--semitones",
            type=click.IntRange(1, 127),
            show_default="12",
            help="How far either way --transpose auto looks.",
        ),
        click.option(
            "--every",
            type=click.IntRange(1),
            show_default="1",
            metavar="STEPS",
            help="--start auto tries the first step and every so many after it: 4 for the beats of sixteenths.",
        ),
    )


def _options_of_the_music() -> tuple[Callable[[Command], Command], ...]:
    return (
        click.option(
            "--performed",
            is_flag=True,
            help="The song was played by hand: put every note on the hole that was meant.",
        ),
        click.option(
            "--beats",
            show_default="follow",
            metavar="follow|keep|find|FILE.csv|part:NAME",
            help="With --performed: trust the file's tempo at its beginning, throughout, or not at all; or take the "
            "beats from a CSV file of seconds, or from a part in which they were tapped.",
        ),
        click.option(
            "--move-part",
            "moves",
            multiple=True,
            metavar="PART=SEMITONES",
            help="Transpose one part: Bass=-12; can be given again.",
        ),
        click.option(
            "--fold-octaves", is_flag=True, help="Move a pitch without a channel to the nearest octave that has one."
        ),
        click.option(
            "--ornaments",
            type=FractionType(),
            metavar="NOTE",
            help="Play trills, mordents, turns and tremolos in notes of this value: 1/32.",
        ),
        click.option(
            "--swing",
            type=RatioType(),
            metavar="RATIO",
            help="Play pairs of eighths long and short: 2:1 puts them on triplet holes.",
        ),
    )


def _options_of_the_fit() -> tuple[Callable[[Command], Command], ...]:
    return (
        click.option(
            "--thin",
            type=click.IntRange(1),
            metavar="NOTES",
            help="Let no more notes begin at once: doublings go first, then inner notes, ornaments, the lightest.",
        ),
        click.option(
            "--tempo",
            type=FiniteRange(*TEMPO_RANGE),
            metavar="QPM",
            help="Quarter notes a minute at which the wheel turns; else the score's own.",
        ),
        click.option(
            "--reach", type=FractionType(), metavar="NOTE", help="How far a note may be moved, as a note value: 1/64."
        ),
        click.option(
            "--offset", type=OffsetType(), help="Take out a constant lateness of the file: auto, or so many ticks."
        ),
        click.option(
            "--priority",
            "priorities",
            multiple=True,
            metavar="PART=N",
            help="Weight of a part, 1 to 99, others having 1; can be given again.",
        ),
        click.option(
            "--drum",
            "drums",
            multiple=True,
            metavar="KEY=KEY",
            help="Sound one drum key as another: 38=40; can be given again.",
        ),
        click.option(
            "--part-channels",
            multiple=True,
            metavar="PART=CHANNELS",
            help="Let only channels of these names sound a part: Bass=string*; can be given again.",
        ),
        click.option(
            "--channel-rule",
            type=click.Choice(CHANNEL_RULES),
            default=CHANNEL_RULES[0],
            show_default=True,
            help="Of channels that share a pitch take the first, the one longest at rest, or the one least used.",
        ),
    )


def output_options(command: Command) -> Command:
    """Add the options of commands that write pin sheets and counts."""
    return _with(
        command,
        click.option(
            "--paper",
            type=click.Choice(PAPERS, case_sensitive=False),
            default=PAPERS[0],
            show_default=True,
            help="For the pin sheets.",
        ),
        click.option(
            "--spares",
            type=FiniteRange(0, 100),
            default=5.0,
            show_default=True,
            metavar="PERCENT",
            help="Spare pins to count, of each type.",
        ),
        click.option("--overwrite", is_flag=True, help="Replace files of the same names in a folder that exists."),
    )


def _with(command: Command, *options: Callable[[Command], Command]) -> Command:
    """Add options so that --help lists them in this order."""
    for option in reversed(options):
        command = option(command)
    return command


def load_wheel(path: Path) -> Wheel:
    """The wheel of a file, with a way out when there is none."""
    from pegwright.config import load_wheel as load  # noqa: PLC0415  # keeps numpy out of --help

    if not path.exists() and path == Path(DEFAULT_WHEEL):
        raise UsageError(
            f"no {DEFAULT_WHEEL} in this folder",
            where="--wheel",
            hint="name a wheel file with --wheel FILE, or write one with `pegwright wheel --new`",
        )
    return load(path)


def request_from(
    bars: tuple[int, int] | None,
    start: Fraction | None,
    transpose: int | None,
    semitones: int | None,
    every: int | None,
    performed: bool,
    beats: str | None,
    moves: tuple[str, ...],
    fold_octaves: bool,
    ornaments: Fraction | None,
    swing: Fraction | None,
    thin: int | None,
    tempo: float | None,
    reach: Fraction | None,
    offset: int | str | None,
    priorities: tuple[str, ...],
    drums: tuple[str, ...],
    part_channels: tuple[str, ...],
    channel_rule: str,
) -> Request:
    """The request that the options of `fit_options` add up to.

    Raises:
        UsageError: a value is out of its bounds.
    """
    from pegwright import units  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.fit.options import ChannelRule, FitOptions  # noqa: PLC0415
    from pegwright.request import SEMITONES, Request, search_of  # noqa: PLC0415

    options = FitOptions(
        transpose_semitones=transpose or 0,
        fold_octaves=fold_octaves,
        start_steps=Fraction(0) if start is None else start - 1,  # people count steps from 1
        us_per_quarter=None if tempo is None else units.us_per_quarter(tempo),
        reach_quarters=None if reach is None else reach * 4,  # a note value is a share of a whole note
        part_priorities=tuple(_pair(text, "--priority") for text in priorities),
        drum_keys=tuple((_whole(key, "--drum"), value) for key, value in (_pair(text, "--drum") for text in drums)),
        part_channels=tuple(_named(text, "--part-channels", "PART=CHANNELS") for text in part_channels),
        channel_rule=ChannelRule(channel_rule),
    )
    _goes_with(semitones, transpose is None, "--semitones", "--transpose auto")
    _goes_with(every, start is None, "--every", "--start auto")
    _goes_with(beats, performed, "--beats", "--performed")
    return Request(
        bars=bars,
        offset=offset,
        played=_played(beats) if performed else None,
        part_semitones=tuple(_pair(text, "--move-part") for text in moves),
        swing=swing,
        most_at_once=thin,
        options=options,
        search=search_of((semitones or SEMITONES) if transpose is None else 0, (every or 1) if start is None else 0),
        ornaments=None if ornaments is None else ornaments * 4,
    )


def _goes_with(value: object, there: bool, option: str, other: str) -> None:
    if value is not None and not there:
        raise UsageError(f"{option} goes with {other}", where=option, hint=f"add {other}, or leave it out")


def _played(beats: str | None) -> Played:
    from pegwright.request import Played, played_by  # noqa: PLC0415  # keeps numpy out of --help

    if beats is None:
        return Played()
    try:
        return played_by(beats, Path())
    except UsageError as error:
        raise UsageError(error.message, where="--beats", hint=error.hint) from None


def _pair(text: str, option: str) -> tuple[str, int]:
    name, number = _named(text, option, "NAME=NUMBER")
    return name, _whole(number, option)


def _named(text: str, option: str, form: str) -> tuple[str, str]:
    name, equals, value = text.rpartition("=")
    if not equals or not name or not value.strip():
        raise UsageError(f"{text!r} is not of the form {form}", where=option)
    return name.strip(), value.strip()


def _whole(text: str, option: str) -> int:
    if not re.fullmatch(r"\s*[+-]?\d{1,6}\s*", text):
        raise UsageError(f"{text!r} is not a whole number", where=option)
    return int(text)
