"""`pegwright find`: from a moment that was heard to the pins that sound there."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import FiniteRange, NamedPath, Parsed, WholeRange
from pegwright.cli.maps import facts_of, no_tempo, report_tables
from pegwright.cli.options import load_wheel, map_wheel_option, start_option, tempo_option
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.correct.find import Wanted
    from pegwright.correct.values import WorkingMap
    from pegwright.wheel import Wheel

MAX_SECONDS = 100_000.0


def _steps(text: str) -> Fraction:
    """A beat or a step: `3`, `2.5`, `4 2/3`."""
    import re  # noqa: PLC0415  # only where one is given

    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6}|( [0-9]{1,6})?/[1-9][0-9]{0,5})?", text.strip()):
        raise click.BadParameter(f"{text[:40]!r} is not such as 3, 2.5 or 4 2/3")
    return sum((Fraction(part) for part in text.split()), Fraction(0))


@command(
    epilog="""\b
Examples:
  pegwright find waltz-pins --bar 7 --beat 3
  pegwright find waltz-pins --at 12.4
  pegwright find waltz-pins --plate 3 --step 12
  pegwright find round-pins --set B --channel snare

MAP is a pin-map.json, a folder that `pegwright pin` wrote, or a folder that has the CSV files of all
plates alone. Bars and beats are those of the score, seconds those of a turn as `pegwright hear`
plays it."""
)
@click.argument("map_path", metavar="MAP", type=NamedPath())
@map_wheel_option
@option("--bar", metavar="BAR", help="The bar in which the note is written.")
@option("--beat", type=Parsed("number", _steps), help="The beat of that bar.")
@option("--at", "at_s", type=FiniteRange(0, MAX_SECONDS), metavar="SECONDS", help="Seconds from the start of the turn.")
@option("--channel", metavar="NUMBER|NAME", help="Pins of one channel alone.")
@option("--plate", metavar="PLATE", type=WholeRange(1, 999_999), help="The plate.")
@option("--step", type=Parsed("number", _steps), help="A step of that plate.")
@option("--set", "letter", metavar="LETTER", help="One set of plates of a song that takes several.")
@tempo_option("Tempo of a folder that has CSV files and no map; --at needs it.", default=None)
@start_option
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def find(
    map_path: Path,
    wheel_path: Path,
    bar: str | None,
    beat: Fraction | None,
    at_s: float | None,
    channel: str | None,
    plate: int | None,
    step: Fraction | None,
    letter: str | None,
    tempo: float | None,
    start: Fraction | None,
    as_json: bool,
) -> None:
    """Print which pins of MAP sound at a moment, and just before and after it.

    Each with its hole, its time, and the note of the score that it sounds.
    """
    wheel = load_wheel(wheel_path)
    from pegwright.correct.find import Wanted, check_bounds, find_in_maps  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.correct.lines import channel_number  # noqa: PLC0415
    from pegwright.song_pipeline.table_maps import working_maps  # noqa: PLC0415

    number = None if channel is None else channel_number(channel, wheel, "--channel")
    wanted = Wanted(bar, beat, at_s, number, None if plate is None else plate - 1, step)
    _check(wanted, wheel)
    maps = _chosen(working_maps(map_path, wheel, facts_of(map_path, tempo, start)), letter, map_path)
    if at_s is not None and not maps[0].us_per_quarter:
        raise no_tempo(map_path)
    wheel = wheel.of_set(maps[0].plate_set)
    report_tables([map_path], wheel)
    check_bounds(maps, wheel, wanted)
    pins = find_in_maps(maps, wheel, wanted)
    if as_json:
        from pegwright.write.correct.json import pins_json  # noqa: PLC0415  # loaded where asked for

        say(pins_json(pins, wheel).decode(), nl=False)
    else:
        from pegwright.write.correct.text import pins_text  # noqa: PLC0415

        say(pins_text(pins, maps, wheel, text_width()), nl=False)


def _check(wanted: Wanted, wheel: Wheel) -> None:
    """Refuse options that do not go together, or name what the wheel does not have."""
    ways = [wanted.bar is not None, wanted.at_s is not None, wanted.plate is not None]
    if sum(ways) > 1:
        raise UsageError("--bar, --at and --plate are three ways to name a moment", hint="give one of them")
    if wanted.beat is not None and wanted.bar is None:
        raise UsageError("goes with --bar", where="--beat", hint="add --bar, or leave it out")
    if wanted.step is not None and wanted.plate is None:
        raise UsageError("goes with --plate", where="--step", hint="add --plate, or leave it out")
    if not any(ways) and wanted.channel is None:
        raise UsageError("nothing to look for", hint="give --bar, --at, --channel, or --plate and --step")
    if wanted.plate is not None and wanted.plate >= wheel.plate_count:
        raise UsageError(f"there is no plate {wanted.plate + 1} among {wheel.plate_count}", where="--plate")
    if wanted.step is not None and not 1 <= wanted.step < wheel.steps_per_plate + 1:
        raise UsageError(f"a plate has steps 1 to {wheel.steps_per_plate}", where="--step")


def _chosen(maps: tuple[WorkingMap, ...], letter: str | None, path: Path) -> tuple[WorkingMap, ...]:
    """The maps of one set of plates, or all."""
    if letter is None:
        return maps
    chosen = tuple(working for working in maps if working.letter == letter.upper())
    if not chosen:
        letters = ", ".join(working.letter for working in maps if working.letter) or "one without a letter"
        raise UsageError(f"there is no set of plates {letter!r}", where=str(path), hint=f"there is {letters}")
    return chosen
