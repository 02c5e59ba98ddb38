"""The command ``groove``: one verb an output."""

import sys
from typing import Annotated

import typer

from groove.cli import card, feels, neck, page, render, setup, sheet, show, tab
from groove.cli.console import say
from groove.errors import GrooveError

app = typer.Typer(
    name="groove",
    help="From a chord chart to a bass part, a band to practise with, and the pages to hand on.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command(epilog="Example:  groove render song.txt -o song.wav --without bass")(render.render)
app.command(epilog="Example:  groove show song.txt")(show.show)
app.command(epilog="Example:  groove tab song.txt --bars 1-8")(tab.tab)
app.command(epilog="Example:  groove neck song.txt --compare 2,7")(neck.neck)
app.command(epilog="Example:  groove sheet song.txt -o part.pdf")(sheet.sheet)
app.command(epilog="Example:  groove card song.txt -o card.pdf --test")(card.card)
app.command(epilog="Example:  groove page song.txt -o practice.html")(page.page)
app.command(epilog="Example:  groove feels sixteenths")(feels.feels)
app.command(epilog="Example:  groove setup")(setup.setup)


def show_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        from importlib.metadata import version

        print(f"groove {version('groove')}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=show_version, is_eager=True, help="Say which version."),
    ] = False,
) -> None:
    """From a chord chart to a bass part, a band to practise with, and the pages to hand on."""


def main() -> None:
    """Run the command line; an error of ours is told in full and ends with its own code."""
    try:
        app()
    except GrooveError as error:
        say(error.report())
        sys.exit(error.exit_code)
    except BrokenPipeError:
        # Whoever read our output has gone; there is nobody left to tell.
        sys.stderr.close()
        sys.exit(1)
