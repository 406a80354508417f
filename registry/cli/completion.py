"""``leadline completion``: names completed by the shell."""

import click
from click.shell_completion import get_completion_class

from registry.errors import NotFoundError


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> None:
    """
    Print the script that lets a shell complete commands and options.

    \b
    Example:
      leadline completion bash > ~/.local/share/bash-completion/completions/leadline
    """
    from registry.cli.main import leadline

    kind = get_completion_class(shell)
    if kind is None:
        raise NotFoundError(f"There is no completion for {shell}.", remedy="Use bash, zsh or fish.")
    click.echo(kind(leadline, {}, "leadline", "_LEADLINE_COMPLETE").source())
