"""What was asked of a song, as a maker would type it for `pegwright fit`, and as data."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from shlex import quote

from pegwright.fit.options import ChannelRule
from pegwright.request import AUTO, SEMITONES, Request
from pegwright.units import fraction_text, printed, quarters_per_minute, ratio_text, us_per_quarter
from pegwright.write.json_text import Json

_WHOLE_QUARTERS = 4


def typed(request: Request) -> str:
    """The options that ask for this, in the order of `--help`; empty if all is as by default.

    Fitting the song again with them gives the same pins.
    """
    return " ".join([*_of_the_song(request), *_of_the_music(request), *_of_the_fit(request)])


def edits_json(request: Request) -> dict[str, Json]:
    """What was done to the song before it was fitted."""
    return {
        "bars": None if request.bars is None else list(request.bars),
        "offset_ticks": request.offset if isinstance(request.offset, int) else 0,
        "performed": None if request.played is None else request.played.words,
        "part_semitones": [{"part": part, "semitones": semitones} for part, semitones in request.part_semitones],
        "ornaments_quarters": None if request.ornaments is None else fraction_text(request.ornaments),
        "swing": None if request.swing is None else ratio_text(request.swing),
        "most_at_once": request.most_at_once,
    }


def _of_the_song(request: Request) -> Iterator[str]:
    options, search = request.options, request.search
    if request.bars is not None:
        first, last = request.bars
        yield f"--bars {first}-{last}" if last > first else f"--bars {first}"
    if request.start_free:
        yield f"--start {AUTO}"
    elif options.start_steps:
        yield f"--start {printed(options.start_steps)}"
    if request.transpose_free:
        yield f"--transpose {AUTO}"
    elif options.transpose_semitones:
        yield f"--transpose {options.transpose_semitones}"
    if search is not None and search.semitones not in (0, SEMITONES):
        yield f"--semitones {search.semitones}"
    if search is not None and search.every_steps > 1:
        yield f"--every {search.every_steps}"


def _of_the_music(request: Request) -> Iterator[str]:
    if request.played is not None:
        yield "--performed"
        yield f"--beats {quote(request.played.words)}"
    yield from _named("--move-part", request.part_semitones)
    if request.options.fold_octaves:
        yield "--fold-octaves"
    if request.ornaments is not None:
        yield f"--ornaments {request.ornaments / _WHOLE_QUARTERS}"
    if request.swing is not None:
        yield f"--swing {ratio_text(request.swing)}"


def _of_the_fit(request: Request) -> Iterator[str]:
    options = request.options
    if request.most_at_once is not None:
        yield f"--thin {request.most_at_once}"
    if options.us_per_quarter is not None:
        yield f"--tempo {_tempo(options.us_per_quarter)}"
    if options.reach_quarters is not None:
        yield f"--reach {options.reach_quarters / _WHOLE_QUARTERS}"
    if request.offset:
        yield f"--offset {request.offset}"
    yield from _named("--priority", options.part_priorities)
    yield from _named("--drum", options.drum_keys)
    yield from _named("--part-channels", options.part_channels)
    if options.channel_rule != ChannelRule.PREFER:
        yield f"--channel-rule {options.channel_rule}"


def _named(option: str, pairs: tuple[tuple[object, object], ...]) -> Iterator[str]:
    for name, value in pairs:
        yield f"{option} {quote(f'{name}={value}')}"


def _tempo(microseconds: int) -> str:
    """The shortest tempo in quarter notes a minute that is this many microseconds a quarter."""
    tempo = quarters_per_minute(microseconds)
    texts = (f"{Decimal(f'{tempo:.{digits}g}'):f}" for digits in range(1, 18))
    return next(text for text in texts if float(text) > 0 and us_per_quarter(float(text)) == microseconds)
