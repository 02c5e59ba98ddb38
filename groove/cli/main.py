"""The command ``groove``: one verb an output."""

import errno
import gc
import os
import sys
from collections.abc import Iterable
from functools import lru_cache
from importlib import import_module
from typing import Annotated, Any

import typer

from groove.cli.console import say, spell_plainly, unwritten
from groove.cli.groups import grouped
from groove.cli.requests import REQUEST_ERROR, Request, request_error
from groove.errors import GrooveError, OutputError
from groove.io.streams import let_go

ABOUT = "From a chord chart to a bass part, a band to practise with, and the pages to hand on."

EXAMPLES = {
    "render": "groove render song.txt -o song.wav --without bass",
    "show": "groove show song.txt --numerals",
    "tab": "groove tab song.txt --bars 1-8",
    "neck": "groove neck song.txt --compare 5,10",
    "card": "groove card song.txt -o card.pdf --test",
    "sheet": "groove sheet song.txt -o part.pdf",
    "page": "groove page song.txt -o practice.html",
    "drill": "groove drill song.txt --sections chorus --from 60% --to 100% --step 5 -o drill.mid",
    "gig": "groove gig friday.txt -o friday/",
    "align": "groove align song.txt record.flac",
    "take": "groove take song.txt take.wav",
    "study": "groove study song.mid --chart song.txt --riffs",
    "feels": "groove feels sixteenths",
    "setup": "groove setup",
}
"""Every command, in the order of the help, with the example at the end of its own."""

UNWRITTEN = frozenset({errno.EBADF, errno.ENOSPC, errno.EIO, errno.EFBIG, errno.EDQUOT})
"""What standard output is refused with: closed, a full disk, a broken one, a limit."""


def _show_version(wanted: bool) -> None:
    if wanted:
        from groove.cli.setup import version_text

        print(f"groove {version_text()}")
        raise typer.Exit


def root(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Say which version."),
    ] = False,
) -> None:
    """From a chord chart to a bass part, a band to practise with, and the pages to hand on."""


def make_app(names: Iterable[str], *, completes: bool = False) -> typer.Typer:
    """Return the command line with some of its commands.

    ``completes`` has their options offer the values that they take.
    """
    app = typer.Typer(
        name="groove",
        help=ABOUT,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )
    app.callback()(root)
    for name in names:
        command = grouped(getattr(import_module(f"groove.cli.{name}"), name))
        if completes:
            from groove.cli.completion import offer_values

            offer_values(command)
        app.command(name, cls=Request, epilog=f"Example:  {EXAMPLES[name]}")(command)
    return app


@lru_cache(maxsize=len(EXAMPLES) + 2)
def _reader(names: tuple[str, ...], *, completes: bool = False) -> Any:
    """Return what reads a call of one of some commands and does what it says.

    A process that calls many times sets each up once, which takes as long as a short command.
    """
    return typer.main.get_command(make_app(names, completes=completes))


def _is_completing() -> bool:
    """Whether the shell asks what a line can go on with."""
    return "_GROOVE_COMPLETE" in os.environ


def _takers(option: str) -> list[str]:
    """Return the commands that take an option."""
    return [
        name
        for name, command in _reader(tuple(EXAMPLES)).commands.items()
        if any(option in (*known.opts, *known.secondary_opts) for known in command.params)
    ]


def _wanted_commands(arguments: list[str]) -> tuple[str, ...]:
    """Return the command that is called, alone: to set up all of them takes as long again.

    The help and the shell's completion want them all.
    """
    called = arguments[0] if arguments else ""
    if called in EXAMPLES and not _is_completing():
        return (called,)
    return tuple(EXAMPLES)


def _unforeseen(error: OSError) -> OutputError:
    """Return what the system refused as an error of ours: a file by its name, or our output."""
    if error.filename is not None:
        return OutputError(f"cannot use {os.fsdecode(error.filename)}: {error.strerror}")
    if error.errno in UNWRITTEN:
        return unwritten(error)
    return OutputError(f"the system refused: {error.strerror or error}")


def main() -> None:
    """Run the command line; an error of ours is told in full and ends with its own code."""
    arguments = sys.argv[1:] or ["--help"]
    command = arguments[0] if arguments[0] in EXAMPLES else ""
    spell_plainly()
    try:
        read = _reader(_wanted_commands(arguments), completes=_is_completing())
        code = read(arguments, prog_name="groove", standalone_mode=False)
        sys.stdout.flush()
    except GrooveError as error:
        say(error.report())
        sys.exit(error.exit_code)
    except REQUEST_ERROR as error:
        refused = request_error(error, command, _takers)
        say(refused.report())
        sys.exit(refused.exit_code)
    except BrokenPipeError:
        # Whoever read our output has gone; there is nobody left to tell.
        let_go(sys.stdout)
        sys.exit(1)
    except OSError as error:
        failed = _unforeseen(error)
        say(failed.report())
        sys.exit(failed.exit_code)
    # The process ends: what is left need not be looked through once more.
    gc.freeze()
    sys.exit(code)
