"""The command `pegwright`: its table of commands, and the one place where errors are printed."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn, TextIO

import click

from pegwright import __version__
from pegwright.cli.help_text import HelpContext
from pegwright.cli.say import harmless, say_line
from pegwright.cli.terminal import text_width
from pegwright.errors import (
    EXIT_ALL_PLACED,
    EXIT_BAD_USAGE,
    EXIT_BUG,
    EXIT_INTERRUPTED,
    EXIT_UNREADABLE,
    ConfigError,
    PegwrightError,
)

EXIT_PIPE_CLOSED = 1  # as click has it, for output whose reader, such as `head`, has seen enough
DEBUG_VARIABLE = "PEGWRIGHT_DEBUG"

# Name: where the command is, and its one-line description, so that the list is shown without importing any.
COMMANDS = {
    "fit": ("pegwright.cli.fit:fit", "Check whether a song fits the wheel, and report what does not."),
    "pin": ("pegwright.cli.pin:pin", "Turn a song into pin maps, pin sheets and a pin count."),
    "song": (
        "pegwright.cli.song:song",
        "Print the parts, bars, tempo and length of a song, and what a wheel can sound.",
    ),
    "find": ("pegwright.cli.find:find", "Print which pins of a map sound at a moment, and with which holes."),
    "check": ("pegwright.cli.check:check", "Check that the pins of a map can be set and played."),
    "edit": ("pegwright.cli.edit:edit", "Correct a pin map by hand: remove, set and move pins."),
    "hear": ("pegwright.cli.hear:hear", "Hear a song as the pins will play it, before one is set."),
    "survey": ("pegwright.cli.survey:survey", "Judge a folder of songs, and report what the wheel lacks most often."),
    "set": ("pegwright.cli.set:song_set", "Plan a show: playing order, starts, swaps, time and pins."),
    "swap": ("pegwright.cli.swap:swap", "List which pins to pull and to set from one song to the next."),
    "wheel": ("pegwright.cli.wheel:wheel", "Print a summary of a wheel file, or start a new one."),
    "leads": ("pegwright.cli.leads:leads", "Print how late channels sound, and where readers take that away."),
    "plate": ("pegwright.cli.plate:plate", "Make the plates of a wheel: flat hole patterns, gauge, bend strip."),
    "seam": ("pegwright.cli.seam:seam", "Work out shims or shifts at the seams of measured plates."),
    "stack": ("pegwright.cli.stack:stack", "Add up the tolerances of a plate in ms, and which to halve first."),
    "demo": ("pegwright.cli.demo:demo", "Fit the bundled songs to the demo wheel and sum up."),
    "completion": ("pegwright.cli.completion:completion", "Print what makes your shell complete commands and options."),
}


class LazyGroup(click.Group):
    """A group that knows names and short help of its commands, and imports one only when it or its help is run."""

    context_class = HelpContext

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # click's signature
        """Names in the order of the table: the order in which a user needs them."""
        return list(COMMANDS)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command of the name that was typed, imported now, and what was typed after it."""
        name, command, rest = super().resolve_command(ctx, args)
        if name is not None:
            module, _, attribute = COMMANDS[name][0].partition(":")
            command = getattr(importlib.import_module(module), attribute)
        return name, command, rest


@click.group(
    cls=LazyGroup,
    commands={name: click.Command(name, short_help=words) for name, (_, words) in COMMANDS.items()},
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Errors are one line each. Set PEGWRIGHT_DEBUG=1 to see where in the program one arose.",
)
@click.version_option(__version__, prog_name="pegwright")
def pegwright() -> None:
    """Turn a song into the pins of a programming wheel: what fits, what does not, and the sheets to pin it by."""


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and leave with its exit code.

    Args:
        arguments: as typed after `pegwright`; those of the process if None.
    """
    # Our matrices are small: threads slow each other down, most of all on a busy machine.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a name that the terminal cannot show must not stop the work
    try:
        code = _run(arguments)
        sys.stdout.flush()  # a closed pipe or a full disk shows here, not after the last chance to report it
    except (Exception, KeyboardInterrupt) as error:  # no traceback reaches a user
        code = _report(error)
    sys.exit(code)


def _run(arguments: Sequence[str] | None) -> int:
    try:
        code = pegwright.main(arguments, prog_name="pegwright", standalone_mode=False, terminal_width=text_width())
    except SystemExit as leaving:
        code = leaving.code
    return code if isinstance(code, int) else EXIT_ALL_PLACED


def _report(error: BaseException) -> int:
    """Print `error` in one line on stderr (a wheel file's faults in one line each); the exit code."""
    if isinstance(error, BrokenPipeError):
        _abandon(sys.stdout)
        return EXIT_PIPE_CLOSED
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        error.show()
        return EXIT_BAD_USAGE
    if os.environ.get(DEBUG_VARIABLE):
        import traceback  # noqa: PLC0415  # only for those who ask

        click.echo(harmless("".join(traceback.format_exception(error))), err=True)
    text, exit_code = _words(_root(error))
    say_line(f"pegwright: error: {text}")
    for fault in _faults(error):
        say_line(f"  {fault}")
    return exit_code


def _faults(error: BaseException) -> tuple[PegwrightError, ...]:
    """The faults of a file that has more than one."""
    return error.faults if isinstance(error, ConfigError) and len(error.faults) > 1 else ()


def _root(error: BaseException) -> BaseException:
    """The Ctrl-C or the lack of memory behind an error that a library made of it, or the error itself."""
    behind: BaseException | None = error
    while behind is not None and not isinstance(behind, KeyboardInterrupt | MemoryError):
        behind = behind.__cause__ or behind.__context__
    return behind if behind is not None and not isinstance(error, PegwrightError | click.ClickException) else error


def _words(error: BaseException) -> tuple[str, int]:
    match error:
        case PegwrightError():
            many = _faults(error)  # which have lines of their own
            return PegwrightError.__str__(error) if many else str(error), error.exit_code
        case MemoryError():
            return "this needs more memory than there is (give a shorter song, or fewer bars of it)", EXIT_UNREADABLE
        case click.ClickException():
            return _usage_text(error), EXIT_BAD_USAGE
        case click.Abort() | KeyboardInterrupt():
            return "stopped", EXIT_INTERRUPTED
        case OSError():
            _abandon(sys.stdout)
            return f"{error.filename or 'output'}: {error.strerror or error}", EXIT_BAD_USAGE
    message = " ".join(str(error).split())
    name = type(error).__name__
    how = f"set {DEBUG_VARIABLE}=1 to see where"
    return f"this is a bug in pegwright: {name}{': ' if message else ''}{message} ({how})", EXIT_BUG


def _usage_text(error: click.ClickException) -> str:
    text = " ".join(error.format_message().split()).rstrip(".")
    context = error.ctx if isinstance(error, click.UsageError) else None
    return f"{text} (try `{context.command_path} --help`)" if context else text


def _abandon(stream: TextIO) -> None:
    """Discard what is still buffered, so that Python does not fail on it when it ends."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    except OSError:
        return  # a stream without a file behind it, as in tests, buffers nothing of ours
