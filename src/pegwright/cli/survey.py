"""`pegwright survey`: a whole folder of scores on a wheel."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pegwright.ask.table import Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import FiniteRange, NamedPath, WholeRange
from pegwright.cli.options import load_wheel, wheel_option
from pegwright.cli.outputs import report_stopped
from pegwright.cli.progress import written
from pegwright.cli.say import say, say_line
from pegwright.cli.terminal import text_width
from pegwright.errors import EXIT_UNREADABLE
from pegwright.units import plural

if TYPE_CHECKING:
    from pegwright.verdict.tally import Survey


@command(
    epilog="""\b
Examples:
  pegwright survey scores
  pegwright survey scores --wheel pavilion.toml -o pavilion-survey
  pegwright survey scores --semitones 5 --workers 1
  pegwright survey scores --build-out 10

The folder OUT then holds survey.csv (a row a file), survey.txt and .json (the summary)
and survey.svg (how much of each piece sounds). If it is stopped, the same command continues
where it was; run again later, it judges only files that are new or have changed.

Exit codes: 0 all files were judged; 1 some could not be, the others are in the summary; or no
score was found; 2 a fault in options or wheel file."""
)
@click.argument("folder", type=NamedPath())
@wheel_option
@option("-o", "--out", type=NamedPath(), help="Folder to write; default: FOLDER-survey in this folder.")
@option(
    "--semitones",
    topic=Topic.PLACING,
    metavar="SEMITONES",
    type=WholeRange(0, 48),  # a test compares it with verdict/judge.py, which --help must not load
    default=12,
    show_default=True,
    help="Try transpositions up to this far, up and down.",
)
@option(
    "--fold-octaves",
    topic=Topic.PLACING,
    is_flag=True,
    help="Move a pitch without a channel to the nearest octave that has one.",
)
@option(
    "--build-out",
    "additions",
    metavar="ADDITIONS",
    type=WholeRange(1, 20),  # as above, of verdict/coverage.py
    default=None,
    help="Also choose the best 1 to ADDITIONS channels, hammers and rows to add, and fit every piece with them.",
)
@option(
    "--workers",
    topic=None,
    metavar="PROCESSES",
    type=WholeRange(1, 256),
    help="Processes to work in; default: one for every core.",
)
@option(
    "--time-limit",
    "limit_s",
    topic=None,
    type=FiniteRange(0.1, 86_400),
    default=60.0,
    show_default=True,
    metavar="SECONDS",
    help="Give a file up after this long.",
)
@option(
    "--memory-limit",
    "limit_mb",
    topic=None,
    type=WholeRange(256, 1_000_000),
    default=2048,
    show_default=True,
    metavar="MB",
    help="Give a file up that needs more memory, on systems that can limit it.",
)
@option("--again", topic=None, is_flag=True, help="Judge every file again, also those of an earlier run.")
@option("--json", "as_json", is_flag=True, help="Print the summary as JSON, for programs.")
def survey(
    folder: Path,
    wheel_path: Path,
    out: Path | None,
    semitones: int,
    fold_octaves: bool,
    additions: int | None,
    workers: int | None,
    limit_s: float,
    limit_mb: int,
    again: bool,
    as_json: bool,
) -> None:
    """Judge every score file in FOLDER, and report what the wheel lacks most often.

    Each piece is tried as it is written, then with every transposition and start, over as many
    turns as it takes. A file that cannot be read is reported and does not stop the others; the exit code is then 1.
    """
    wheel = load_wheel(wheel_path)
    from pegwright.survey.run import run_survey, survey_files  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.survey.workers import cores  # noqa: PLC0415
    from pegwright.write.folder import write_folder  # noqa: PLC0415
    from pegwright.write.names import safe_name  # noqa: PLC0415
    from pegwright.write.survey.text import survey_text  # noqa: PLC0415

    target = out or Path(f"{safe_name(folder.absolute().name)}-survey")
    report_stopped(target)
    with _bar() as progress:
        result = run_survey(
            folder,
            wheel,
            semitones,
            target,
            workers=workers or cores(),
            limit_s=limit_s,
            memory_bytes=limit_mb * 2**20,
            fold_octaves=fold_octaves,
            additions=additions or 0,
            again=again,
            progress=progress,
        )
    files = survey_files(result)
    write_folder(target, files, overwrite=True)
    if as_json:
        say(files["survey.json"].decode(), nl=False)
    else:
        say(survey_text(result, text_width()))
        written(target, ", ".join(files), ())
    _stop_if_not_judged(result, target)


def _stop_if_not_judged(result: Survey, target: Path) -> None:
    """Leave with a line on stderr where files could not be judged; the summary names them."""
    failed = sum(row.verdict is None for row in result.rows)
    if failed:
        of_all = f"{failed:,} of {plural(len(result.rows), 'score file')}"
        say_line(f"pegwright: not judged: {of_all}; {target / 'survey.csv'} says why of each")
        sys.exit(EXIT_UNREADABLE)


@contextmanager
def _bar() -> Iterator[Callable[[str, int, int], None]]:
    """A bar that shows the phase and the files done in it, on stderr; nothing when piped."""
    if not sys.stderr.isatty():
        yield lambda _phase, _count, _total: None
        return
    from rich.console import Console  # noqa: PLC0415  # rich is loaded only where it is seen
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TaskID,
        TextColumn,
        TimeRemainingColumn,
    )

    phase, left = TextColumn("{task.description}"), TextColumn("left")
    columns = (phase, BarColumn(), MofNCompleteColumn(), left, TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        tasks: dict[str, TaskID] = {}

        def show(phase: str, count: int, total: int) -> None:
            if phase not in tasks:
                for earlier in tasks.values():
                    shown.update(earlier, visible=False)
                tasks[phase] = shown.add_task(phase, total=total)
            shown.update(tasks[phase], completed=count, total=total)

        yield show
