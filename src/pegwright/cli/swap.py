"""`pegwright swap`: what to pull and what to set, from one pinning to the next."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from pegwright.ask.request import AUTO
from pegwright.ask.table import Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, WholeRange
from pegwright.cli.maps import EMPTY, report_tables
from pegwright.cli.options import fit_options, load_wheel, output_options, wheel_option
from pegwright.cli.progress import next_step, working, written
from pegwright.cli.say import say
from pegwright.cli.sheet_options import part_options, style_from
from pegwright.cli.song_argument import chosen_song, song_option
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_wrapped
from pegwright.errors import UsageError
from pegwright.units import plural

# How a song is read: its song file says that.
OF_THE_SONG = ("performed", "beats", "subdivisions", "metre", "first_note", "beat_shift", "ornaments")


@command(
    epilog="""\b
Examples:
  pegwright swap tango-pins/pin-map.json waltz-pins/pin-map.json
  pegwright swap tango-pins/pin-map.json waltz.mid -w pavilion.toml -o to-the-waltz
  pegwright swap now.json round.mxl --bars 13-24 --start 1

  pegwright swap --from empty waltz.mid -o first-pinning

OLD is the pin map of what the plates carry: its pin-map.json, the folder that `pegwright pin` wrote, or a folder that
has the CSV files of all plates alone; --from empty in its place means plates without pins. NEW is another pin map, a
score or a song file; a score is fitted to the wheel at the start of minimum work among those at which it loses least.
Options of the fit go with a score only."""
)
@click.argument("maps", type=NamedPath(), nargs=-1, metavar="[OLD] NEW")
@option(
    "--from",
    "before",
    metavar=EMPTY,
    help="In place of OLD: the plates carry no pins; the call list of the first pinning.",
)
@wheel_option
@option("-o", "--out", type=NamedPath(), help="Folder to write; without it, the call list is printed.")
@song_option
@partial(fit_options, start=AUTO, hidden=OF_THE_SONG)
@option(
    "--fixed",
    topic=Topic.PLACING,
    type=WholeRange(1, 64),
    multiple=True,
    metavar="PLATE",
    help="A plate that must keep its place; can be given again.",
)
@output_options
@part_options
@option("--json", "as_json", is_flag=True, help="Print the swap as JSON, for programs.")
def swap(
    maps: tuple[Path, ...],
    before: str | None,
    wheel_path: Path,
    name: str | None,
    out: Path | None,
    fixed: tuple[int, ...],
    paper: str,
    spares: float,
    overwrite: bool,
    as_json: bool,
    **options: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """List which pins to pull and to set so that plates that carry OLD carry NEW.

    Plates change places on the rim where that saves work: each heading says where the plate was.
    """
    old, new = _old_and_new(maps, before)
    wanted, style = chosen_song(new, wheel_path, name, options), style_from(options)
    wheel = load_wheel(wanted.wheel)
    from pegwright.config.one_song import SetSong  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.facts import require_all_lengths  # noqa: PLC0415
    from pegwright.show_pipeline.one_swap import one_swap, one_swap_files, swap_facts  # noqa: PLC0415
    from pegwright.write.folder import check_folder, write_folder  # noqa: PLC0415
    from pegwright.write.swap.text import swap_sums, swap_text  # noqa: PLC0415

    if out:
        require_all_lengths(wheel)
        check_folder(out, overwrite)
    with working(f"Working out {new.name}"):
        result = one_swap(old, SetSong(wanted.score, wanted.request), wheel, [plate - 1 for plate in fixed])
    report_tables([old, wanted.score], wheel)
    if as_json:
        from pegwright.write.swap.data import swap_json  # noqa: PLC0415  # loaded where asked for

        say(swap_json(wheel, result.swap, result.old, result.new).decode(), nl=False)
    elif out:
        say_wrapped("\n".join([swap_sums(result.swap), *swap_facts(result)]))
    else:
        facts = swap_facts(result)
        say(swap_text(wheel, result.swap, result.old, result.new, facts, text_width()), nl=False)
    if out:
        from pegwright.draw.paper import paper_named  # noqa: PLC0415  # as above
        from pegwright.song_pipeline.files import print_name  # noqa: PLC0415

        files = one_swap_files(result, paper_named(paper), spares, style)
        others = write_folder(out, files, overwrite)
        written(out, ", ".join(files), others, err=as_json)
        next_step(
            str(out / print_name(paper_named(paper))),
            "pull and set the pins of one plate after another by its sheet",
            err=as_json,
        )


def _old_and_new(maps: Sequence[Path], before: str | None) -> tuple[Path | None, Path]:
    """What the plates carry, None for empty plates, and what they are to carry.

    Args:
        maps: the arguments.
        before: the option --from.

    Raises:
        UsageError: they are not two, or one that goes with --from, or that is given a pin map.
    """
    if before not in (None, EMPTY):
        hint = f"name a pin map before NEW: `pegwright swap {before.strip() or 'OLD'} NEW`"
        raise UsageError(f"takes only {EMPTY}, not {before!r}", where="--from", hint=hint)
    wanted = 2 if before is None else 1
    if len(maps) != wanted:
        message = f"{plural(len(maps), 'file')} given, not {'OLD and NEW' if wanted == 2 else 'NEW alone'}"
        hint = "give two, or --from empty and one" if wanted == 2 else "--from says what the plates carry"
        raise UsageError(message, where="swap", hint=hint)
    return (maps[0] if before is None else None), maps[-1]
