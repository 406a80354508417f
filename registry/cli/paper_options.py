"""Options of every command that prints a paper for a family: its language and its sheet."""

import click

__all__ = ["language_option", "paper_option"]

language_option = click.option(
    "--language",
    metavar="TAG",
    help="Of the paper: en, es, fr, de or vi, also as es-MX; else that recorded with the name, else English.",
)
#: The names of :data:`registry.documents.paper.PAPERS`, which is loaded only to print.
paper_option = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="The sheet."
)
