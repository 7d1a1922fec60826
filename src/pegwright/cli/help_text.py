"""How `--help` is laid out: nothing is wider than the terminal, and nothing that is typed is broken."""

from __future__ import annotations

import re
from collections.abc import Iterable

import click

_UNBROKEN = "\u2011"  # the hyphen at which no line is broken
_RAW = "\b\n"  # how click marks a paragraph that keeps its lines
_REMARK = re.compile(r"(?P<indent> *)(?P<command>\S.*?) {2,}(?P<remark>\S.*)")


class FittedHelp(click.HelpFormatter):
    """Help in which no option or file name is broken at a hyphen, and no example is wider than the terminal."""

    def write_usage(self, prog: str, args: str = "", prefix: str | None = None) -> None:
        """As click does."""
        super().write_usage(prog, args.replace("-", _UNBROKEN), prefix)

    def write_text(self, text: str) -> None:
        """As click does, with examples broken where they are too wide."""
        blocks = [self._examples(block) if block.startswith(_RAW) else block for block in text.split("\n\n")]
        super().write_text("\n\n".join(blocks).replace("-", _UNBROKEN))

    def write_dl(self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2) -> None:
        """As click does."""
        kept = [(first, second.replace("-", _UNBROKEN)) for first, second in rows]
        super().write_dl(kept, min(col_max, self.width // 2 - 4), col_spacing)

    def getvalue(self) -> str:
        """The help."""
        return super().getvalue().replace(_UNBROKEN, "-")

    def _examples(self, block: str) -> str:
        return _RAW + "\n".join(line for each in block.removeprefix(_RAW).split("\n") for line in self._example(each))

    def _example(self, line: str) -> list[str]:
        """An example; one that is too wide has its remark below, and is broken as shells allow it."""
        room = self.width - self.current_indent
        if len(line) <= room:
            return [line]
        from pegwright.write.tables import command_lines  # noqa: PLC0415  # only where it is needed

        match = _REMARK.fullmatch(line)
        command, remark = (match["command"], [f"{match['indent']}    {match['remark']}"]) if match else (line, [])
        return [*command_lines(command.strip(), room), *remark]


class HelpContext(click.Context):
    """A command being run."""

    formatter_class = FittedHelp
