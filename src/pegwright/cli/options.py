"""Options that several commands share, and the request they add up to."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pegwright.cli.kinds import Auto, BarsType, FiniteRange, FractionType, NamedPath, OffsetType, RatioType, WholeRange
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.request import Played, Request
    from pegwright.wheel import Wheel

Command = TypeVar("Command", bound=Callable[..., Any])

DEFAULT_WHEEL = "wheel.toml"
CHANNEL_RULES = ("prefer", "alternate", "spread")
PAPERS = ("a4", "a3", "letter")  # a test holds them to what draw/paper.py knows, which --help must not load
# Bounds that config/one_song.py and fit/ hold too, which --help must not load; a test compares them.
TEMPO_RANGE = (1.0, 1000.0)
TURN_MOST = 64 * 4096
NOTES_MOST = 1000
REACH = (Fraction(0), Fraction(1, 4))  # of a whole note, as the next
ORNAMENTS = (Fraction(1, 128), Fraction(1, 8))
PRIORITIES = (1, 99)
DRUM_KEYS = (0, 127)
MOVES = (-127, 127)  # of pitches, in semitones


def wheel_option(command: Command) -> Command:
    """Add `--wheel`."""
    return click.option(
        "-w",
        "--wheel",
        "wheel_path",
        type=NamedPath(),
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
            type=Auto(FractionType(Fraction(1), Fraction(999_999_999))),  # the wheel tells how many steps it has
            default=start,
            show_default=True,
            metavar="STEP|auto",
            help="Step of the turn where the song begins; auto finds the best.",
        ),
        click.option(
            "--transpose",
            type=Auto(WholeRange(*MOVES)),
            default="0",
            show_default=True,
            metavar="SEMITONES|auto",
            help="Move every pitch up, or down if negative; auto finds the best.",
        ),
        click.option(
            "--semitones",
            type=WholeRange(1, 127),
            show_default="12",
            help="How far either way --transpose auto looks.",
        ),
        click.option(
            "--every",
            type=WholeRange(1, TURN_MOST),
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
            type=FractionType(*ORNAMENTS),
            metavar="NOTE",
            help="Play trills, mordents, turns and tremolos in notes of this value: 1/32.",
        ),
        click.option(
            "--swing",
            type=RatioType(),
            metavar="RATIO",
            help="Play pairs of eighths long and short: 2:1 puts them on triplet holes. Else as the score marks.",
        ),
    )


def _options_of_the_fit() -> tuple[Callable[[Command], Command], ...]:
    return (
        click.option(
            "--thin",
            type=WholeRange(1, NOTES_MOST),
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
            "--reach",
            type=FractionType(*REACH),
            metavar="NOTE",
            help="How far a note may be moved, as a note value: 1/64.",
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
        part_priorities=tuple(_pair(text, "--priority", PRIORITIES) for text in priorities),
        drum_keys=tuple(
            (_whole(key, "--drum", DRUM_KEYS), value)
            for key, value in (_pair(text, "--drum", DRUM_KEYS) for text in drums)
        ),
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
        part_semitones=tuple(_pair(text, "--move-part", MOVES) for text in moves),
        swing=swing,
        most_at_once=thin,
        options=options,
        search=search_of((semitones or SEMITONES) if transpose is None else 0, (every or 1) if start is None else 0),
        ornaments=None if ornaments is None else ornaments * 4,
    )


def _goes_with(value: object, there: bool, option: str, other: str) -> None:
    if value is not None and not there:
        raise UsageError(f"goes with {other}", where=option, hint=f"add {other}, or leave it out")


def _played(beats: str | None) -> Played:
    from pegwright.request import Played, played_by  # noqa: PLC0415  # keeps numpy out of --help

    if beats is None:
        return Played()
    try:
        return played_by(beats, Path())
    except UsageError as error:
        raise UsageError(error.message, where="--beats", hint=error.hint) from None


def _pair(text: str, option: str, bounds: tuple[int, int]) -> tuple[str, int]:
    name, number = _named(text, option, "NAME=NUMBER")
    return name, _whole(number, option, bounds)


def _named(text: str, option: str, form: str) -> tuple[str, str]:
    name, equals, value = text.rpartition("=")
    if not equals or not name.strip() or not value.strip():
        raise UsageError(f"{text[:40]!r} is not of the form {form}", where=option)
    return name.strip(), value.strip()


def _whole(text: str, option: str, bounds: tuple[int, int]) -> int:
    told = f"{bounds[0]} to {bounds[1]}"
    if not re.fullmatch(r"\s*[+-]?[0-9]{1,9}\s*", text):
        raise UsageError(f"{text[:40]!r} is not a whole number", where=option, hint=f"give one from {told}")
    if not bounds[0] <= int(text) <= bounds[1]:
        raise UsageError(f"{int(text)} is outside {told}", where=option)
    return int(text)
