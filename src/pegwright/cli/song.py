"""`pegwright song`: what a song is made of, and what of it a wheel can sound."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from pegwright.ask.table import OPTIONS, Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import DEFAULT_WHEEL, fit_options, load_wheel
from pegwright.cli.progress import working
from pegwright.cli.say import say
from pegwright.cli.song_argument import chosen_song, song_option
from pegwright.cli.terminal import text_width


@command(
    epilog="""\b
Examples:
  pegwright song waltz.mid
  pegwright song march.mxl --wheel pavilion.toml
  pegwright song march.mxl --without "Drums*" --json

Exit codes: 0 the facts were printed; 2 a fault in options or wheel file; 1 a score that cannot be read."""
)
@click.argument("song", type=NamedPath())
@option(
    "-w",
    "--wheel",
    "wheel_path",
    topic=Topic.PLACING,
    type=NamedPath(),
    help=f"A wheel file; default: {DEFAULT_WHEEL}, if there is one.",
)
@song_option
@partial(fit_options, without={each.name for each in OPTIONS} - {"only", "without"})
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def song(song: Path, wheel_path: Path | None, name: str | None, as_json: bool, **options: Any) -> None:  # noqa: ANN401  # click passes options by name
    """Print what SONG is made of: its parts, bars, tempo and length, and how it was made.

    SONG is a score, a song file (.toml), or with --song a song set. With a wheel file also how many turns it
    takes, which channels would sound each part as it is written, and which of its notes have no channel. Nothing
    is fitted: `pegwright fit` says which notes find a hole.
    """
    wanted = chosen_song(song, wheel_path, name, options)
    path = wanted.file.wheel or (Path(DEFAULT_WHEEL) if Path(DEFAULT_WHEEL).exists() else None)
    wheel = load_wheel(path) if path else None
    from pegwright.read import read_score  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.song_facts import song_facts  # noqa: PLC0415
    from pegwright.song_pipeline.editing import chosen_parts  # noqa: PLC0415

    with working(f"Reading {song.name}"):
        score, findings = read_score(wanted.score)
        score, chosen = chosen_parts(score, wanted.request, {})
        facts = song_facts(score, wheel, (*findings, *chosen))
    if as_json:
        from pegwright.write.song.json import song_json  # noqa: PLC0415  # loaded where asked for

        say(song_json(facts).decode(), nl=False)
    else:
        from pegwright.write.song.text import song_text  # noqa: PLC0415

        say(song_text(facts, text_width()), nl=False)
