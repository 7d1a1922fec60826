"""`pegwright plate`: how the plates of a wheel are drilled flat, a gauge and a bend strip to measure first."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

import click

from pegwright.ask.kinds import Number, WordChoice
from pegwright.ask.table import BY_NAME
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, type_of
from pegwright.cli.options import new_option, tempo_option
from pegwright.cli.outputs import refuse_inputs, toml_path
from pegwright.cli.progress import written
from pegwright.cli.say import say
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_command, say_wrapped
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.plate_pipeline.request import ShopRequest

DEFAULT_PLATE = "plate.toml"


@command(
    epilog="""\b
Examples:
  pegwright plate --new                  write plate.toml, to change
  pegwright plate --gauge -o gauge       a small part to measure drills and seam by
  pegwright plate --strip 500 -o strip   a bend strip that gives k
  pegwright plate                        what bending does to the sheets of plate.toml
  pegwright plate -o drilling            write programs, drawings and sheets to drill by
  pegwright plate -o drilling --jig      drill jigs too, to drill by hand

Exit codes: 0 the plate can be made; 2 a fault in options, plate file or wheel file."""
)
@click.argument("file", type=NamedPath(), required=False)
@option("-o", "--out", type=NamedPath(), help="Folder to write; without it, the summary is printed.")
@option("--gauge", is_flag=True, help="Instead, a small part: a ladder of holes, a seam, every fixing hole.")
@option(
    "--strip",
    "strip_mm",
    type=type_of(Number(1.0, 100_000.0, "mm")),
    metavar="LENGTH_MM",
    help="Instead, a bend strip about so long, whose bent length gives k.",
)
@tempo_option("Quarter notes a minute at which lengths are given as times.")
@option("--jig", is_flag=True, help="With -o, also drill jigs: one channel with holes to locate it by.")
@option(
    "--order",
    type=type_of(WordChoice(("one-way", "shortest"), "order")),
    default="one-way",
    show_default=True,
    help="How the drill goes: to every hole from the same side, or to and fro.",
)
@option(
    "--paper",
    type=type_of(BY_NAME["paper"].kind),
    default=BY_NAME["paper"].default,
    show_default=True,
    help="For the set-up sheet and the check template.",
)
@option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
@new_option(DEFAULT_PLATE, "a starter file")
@option("--overwrite", is_flag=True, help="Replace files that exist.")
def plate(
    file: Path | None,
    out: Path | None,
    gauge: bool,
    strip_mm: float | None,
    tempo: float,
    jig: bool,
    order: str,
    paper: str,
    as_json: bool,
    new_path: Path | None,
    overwrite: bool,
) -> None:
    """Work out the flat hole pattern of the plates of FILE, and write the files a workshop drills by.

    FILE is plate.toml in this folder if left out; it names the wheel file. The format is described in
    docs/plate-file.md, and the work in its order in docs/making-plates.md.
    """
    if new_path:
        if file or out or gauge or strip_mm or as_json or jig:
            raise UsageError("--new goes without other options", hint="give the new file's name after --new")
        _write_starter(toml_path(new_path), overwrite)
        return
    if gauge and strip_mm:
        raise UsageError("--gauge and --strip are two parts", hint="run the command twice")
    if overwrite and not out:
        raise UsageError("--overwrite goes with -o or --new only", hint="leave it out, or add -o FOLDER")
    if jig and (gauge or strip_mm or not out):
        raise UsageError("--jig goes with the plates' own files", hint="leave it out, or add -o FOLDER")
    path = _plate_path(file)
    from pegwright.config.plate_file import load_plate  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.plate_pipeline import parts  # noqa: PLC0415
    from pegwright.write.folder import check_folder, write_folder  # noqa: PLC0415

    if out:
        refuse_inputs([out], {"plate file": path})
        check_folder(out, overwrite)
    loaded, wheel = load_plate(path)
    if strip_mm:
        part = parts.strip(loaded, wheel, strip_mm)
    else:
        part = parts.gauge(loaded, wheel) if gauge else parts.plates(loaded, wheel, tempo)
    say(part.json().decode() if as_json else part.text(text_width()), nl=False)
    if out:
        files = part.files(_shop_request(order, paper, jig))
        others = write_folder(out, files, overwrite)
        written(out, ", ".join(files), others, err=as_json)
        say_wrapped(f"\nNext: {part.next_words}.", err=as_json)


def _shop_request(order: str, paper: str, jig: bool) -> ShopRequest:
    """The request for drilling files.

    Args:
        order: of the holes.
        paper: name of the paper that is printed on.
        jig: whether jigs are written too.
    """
    from pegwright.draw.paper import paper_named  # noqa: PLC0415  # drawing is loaded where files are written
    from pegwright.plate.order import DrillOrder  # noqa: PLC0415
    from pegwright.plate_pipeline.request import ShopRequest as Request  # noqa: PLC0415

    return Request(DrillOrder(order), paper_named(paper), jig)


def _plate_path(file: Path | None) -> Path:
    if not file and not Path(DEFAULT_PLATE).exists():
        hint = "name a plate file, or write one with `pegwright plate --new`"
        raise UsageError(f"no {DEFAULT_PLATE} in this folder", hint=hint)
    return file or Path(DEFAULT_PLATE)


def _write_starter(path: Path, overwrite: bool) -> None:
    """Write the starter plate file to `path` and say so."""
    from pegwright.package_data import data_bytes  # noqa: PLC0415  # only where a file is written
    from pegwright.write.folder import write_file  # noqa: PLC0415

    write_file(path, data_bytes("starter/plate.toml"), overwrite)
    words = f"Wrote {path}. Change its numbers to those of your sheet, drills and machine, then run"
    say_command(words, f"pegwright plate {quote(str(path))}")
