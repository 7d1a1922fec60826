"""`pegwright wheel`: a summary of a wheel file, and a starter file."""

from __future__ import annotations

from pathlib import Path
from shlex import quote

import click

from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath
from pegwright.cli.options import DEFAULT_WHEEL, new_option, tempo_option
from pegwright.cli.outputs import toml_path
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_command
from pegwright.errors import UsageError


@command(
    epilog="""\b
Examples:
  pegwright wheel --new                  write wheel.toml, a small wheel to change
  pegwright wheel --new carillon         write carillon.toml
  pegwright wheel                        a summary of wheel.toml
  pegwright wheel pavilion.toml --tempo 96
  pegwright wheel pavilion.toml --json

Exit codes: 0 the facts were printed; 2 a fault in options or wheel file."""
)
@click.argument("file", type=NamedPath(), required=False)
@tempo_option("Quarter notes a minute at which to give speeds.")
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
@new_option(DEFAULT_WHEEL, "a starter file")
@option("--overwrite", is_flag=True, help="With --new: replace a file that exists.")
def wheel(file: Path | None, tempo: float, as_json: bool, new_path: Path | None, overwrite: bool) -> None:
    """Print a summary of the wheel of FILE: holes, speed, bars, sounds and lost holes.

    FILE is wheel.toml in this folder if left out. The format is described in docs/wheel-file.md,
    and by the comments in a starter file.
    """
    if new_path:
        if file or as_json:
            raise UsageError("--new goes without FILE and --json", hint="give the new file's name after --new")
        write_starter(toml_path(new_path), overwrite)
        return
    if overwrite:
        raise UsageError("--overwrite goes with --new only", hint="leave it out, or add --new")
    if not file and not Path(DEFAULT_WHEEL).exists():
        hint = "name a wheel file, or write one with `pegwright wheel --new`"
        raise UsageError(f"no {DEFAULT_WHEEL} in this folder", hint=hint)
    from pegwright.config import load_wheel  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.write.wheel.json import wheel_json  # noqa: PLC0415
    from pegwright.write.wheel.text import wheel_text  # noqa: PLC0415

    loaded = load_wheel(file or Path(DEFAULT_WHEEL))
    say(wheel_json(loaded, tempo).decode() if as_json else wheel_text(loaded, tempo, text_width()), nl=False)


def write_starter(path: Path, overwrite: bool) -> None:
    """Write the starter wheel file to `path` and say so."""
    from pegwright.package_data import data_bytes  # noqa: PLC0415  # only where a file is written
    from pegwright.write.folder import write_file  # noqa: PLC0415

    write_file(path, data_bytes("starter/wheel.toml"), overwrite)
    words = f"Wrote {path}. Change its numbers to those of your wheel, then run"
    say_command(words, f"pegwright wheel {quote(str(path))}")
