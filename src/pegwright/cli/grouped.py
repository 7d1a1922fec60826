"""Commands whose `--help` lists their options in groups."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from functools import partial
from typing import Any

import click

from pegwright.ask.table import Topic
from pegwright.cli.help_text import HelpContext

GENERAL = "General options"


class GroupedOption(click.Option):
    """An option that `--help` lists in a group.

    Args:
        topic: the group; what click's own options take follows.
    """

    def __init__(self, *names: Any, topic: Topic | None = None, **settings: Any) -> None:  # noqa: ANN401  # click's
        super().__init__(*names, **settings)
        self.topic = topic


class GroupedCommand(click.Command):
    """A command with its options in groups in `--help`; those of no topic come last."""

    context_class = HelpContext

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the options of each topic under its name, in the order of the topics."""
        groups: dict[Topic | None, list[tuple[str, str]]] = defaultdict(list)
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is not None and isinstance(parameter, click.Option):
                groups[getattr(parameter, "topic", None)].append(record)
        if len(groups.keys() - {None}) < 2:  # one topic needs no name
            super().format_options(ctx, formatter)
            return
        for topic in (*Topic, None):
            if topic in groups:
                with formatter.section(f"{topic.capitalize()} options" if topic else GENERAL):
                    formatter.write_dl(groups[topic])


command = partial(click.command, cls=GroupedCommand)


def option(*names: str, topic: Topic | None = Topic.OUTPUT, **settings: Any) -> Callable[[Any], Any]:  # noqa: ANN401  # click's
    """An option in a group of `--help`.

    Args:
        names: as click takes them.
        topic: the group; that of most options that only one command has by default.
        settings: as click takes them.
    """
    return click.option(*names, cls=GroupedOption, topic=topic, **settings)
