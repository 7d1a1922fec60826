"""`pegwright completion`: the lines that make a shell complete commands and options."""

from __future__ import annotations

import click

from pegwright.cli.grouped import command

SHELLS = ("bash", "zsh", "fish")


@command(
    epilog="""\b
Examples:
  pegwright completion bash >> ~/.bashrc
  pegwright completion zsh >> ~/.zshrc
  pegwright completion fish > ~/.config/fish/completions/pegwright.fish"""
)
@click.argument("shell", type=click.Choice(SHELLS))
def completion(shell: str) -> None:
    """Print the completion script for SHELL; add it to what the shell reads at its start."""
    from click.shell_completion import get_completion_class  # noqa: PLC0415  # only for this command

    from pegwright.cli.main import pegwright  # noqa: PLC0415  # main holds the table that names this module

    script = get_completion_class(shell)
    assert script is not None, shell  # noqa: S101  # click has every shell of SHELLS
    click.echo(script(pegwright, {}, "pegwright", "_PEGWRIGHT_COMPLETE").source())
