"""`pegwright leads`: where the readers of channels that sound late are best put, and what is left at other tempos."""

from __future__ import annotations

from pathlib import Path

import click

from pegwright.ask.table import TEMPO
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, Parsed, type_of
from pegwright.cli.options import DEFAULT_WHEEL, tempo_option
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.errors import UsageError

MAX_TEMPOS = 8  # as many as a table of columns holds


def _tempos(text: str) -> tuple[float, ...]:
    """Different tempos between commas, as they come."""
    parts = [part.strip() for part in text.split(",")] if text else []
    if len(parts) > MAX_TEMPOS:
        raise click.BadParameter(f"{len(parts):,} tempos, above the maximum, {MAX_TEMPOS}")
    of_one = type_of(TEMPO)
    return tuple(dict.fromkeys(of_one.convert(part, None, None) for part in parts))


@command(
    epilog="""\b
Examples:
  pegwright leads                                 of wheel.toml, at 120 quarter notes a minute
  pegwright leads pavilion.toml --tempo 112
  pegwright leads --tempo 112 --tempos 63,92,138  what is left at the tempos of other songs
  pegwright leads pavilion.toml --json

Exit codes: 0 the leads were printed; 2 a fault in options or wheel file."""
)
@click.argument("file", metavar="[WHEEL]", type=NamedPath(), required=False)
@tempo_option("Quarter notes a minute at which leads are taken away.")
@option(
    "--tempos",
    type=Parsed("tempos", _tempos),
    default="",
    metavar="TEMPO,TEMPO,...",
    help="Others, at which what is left of each lead is given.",
)
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def leads(file: Path | None, tempo: float, tempos: tuple[float, ...], as_json: bool) -> None:
    """Print how late each channel of WHEEL sounds, and where its reader or its pins take that away.

    WHEEL is wheel.toml in this folder if left out. A lead is a time, and what takes it away is a
    length on the rim: it is right at one tempo. Leads are described in docs/wheel-file.md.
    """
    if not file and not Path(DEFAULT_WHEEL).exists():
        hint = "name a wheel file, or write one with `pegwright wheel --new`"
        raise UsageError(f"no {DEFAULT_WHEEL} in this folder", hint=hint)
    from pegwright.config import load_wheel  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.plate.leads import leads_of  # noqa: PLC0415
    from pegwright.write.wheel.leads import leads_json, leads_text  # noqa: PLC0415

    wheel = load_wheel(file or Path(DEFAULT_WHEEL))
    taken_away = leads_of(wheel, tempo, [other for other in tempos if other != tempo])
    say(leads_json(wheel, taken_away).decode() if as_json else leads_text(wheel, taken_away, text_width()), nl=False)
