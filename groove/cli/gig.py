"""``groove gig``: everything for a whole set in one folder."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from msgspec import Struct

from groove.cli.console import CAUTION, FAILED_IN_PART, put, put_json, say
from groove.cli.options import (
    ForOption,
    JsonOption,
    Patterns,
    Soundfont,
    TuningOption,
    kinds_option,
    output_option,
)
from groove.cli.targets import AUDIO_SUFFIXES
from groove.cli.values import chosen, parse_names, parse_player, refused
from groove.errors import OptionError

if TYPE_CHECKING:
    from groove.cli.gig_songs import GigMaker
    from groove.cli.gigging import MadeSet, Making

MOST_SONGS_AT_ONCE = 64
USUAL_GIG_KINDS = ("mid", "sheet", "card", "page")
"""What a set gets where no kinds are asked for: all but sound, which takes the most time."""
GIG_KINDS = (*USUAL_GIG_KINDS, *(suffix.removeprefix(".") for suffix in AUDIO_SUFFIXES))


class GigOptions(Struct, frozen=True, kw_only=True):
    """Where to, what, and how many songs at once."""

    output: Annotated[
        str | None,
        output_option("Where to; named after the set.", metavar="FOLDER/"),
    ] = None
    as_: Annotated[
        str | None,
        kinds_option("Some of mid, sheet, card, page, wav, flac, ogg, mp3."),
    ] = None
    jobs: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=1, max=MOST_SONGS_AT_ONCE, help="Songs at a time; one a processor."
        ),
    ] = None
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Have a Dask cluster's workers make the songs."),
    ] = None
    for_: ForOption = None
    tuning: TuningOption = None
    soundfont: Soundfont = None
    patterns: Patterns = None
    json: JsonOption = False


def gig(
    set_list: Annotated[
        str, typer.Argument(metavar="SET", help="The set list: a chart a line, in order.")
    ],
    asked: GigOptions,
) -> None:
    """Make everything for a set: tracks, sheets, cards, pages, an index and a gig book."""
    from groove.cli.gig_songs import GigMaker
    from groove.cli.gigging import make_set

    maker = GigMaker(
        set_list=set_list,
        folder=_folder(asked.output, set_list),
        kinds=_kinds(asked.as_),
        tuning=asked.tuning,
        written_for=parse_player(asked.for_),
        soundfont=asked.soundfont,
        patterns=asked.patterns,
    )
    made = make_set(maker, _making(asked))
    _print_made(made, maker, as_json=asked.json)
    raise typer.Exit(FAILED_IN_PART if made.failures else 0)


def _making(asked: GigOptions) -> "Making":
    """Return how songs are made: by processes, or by a cluster.  Raises OptionError for both."""
    if asked.cluster is None:
        from groove.cli.gigging import by_processes

        return by_processes(asked.jobs or os.cpu_count() or 1)
    if asked.jobs is not None:
        raise OptionError(
            "--cluster has as many songs made at a time as it has workers: --cluster with --jobs",
            hint="leave one of them out",
        )
    from groove.cli.cluster import by_cluster

    return by_cluster(asked.cluster)


def _folder(output: str | None, set_list: str) -> Path:
    """Return where the files go: beside the set list, in a folder of its name, where none is said.

    Raises OptionError for a file.
    """
    folder = Path(output) if output else Path(set_list).with_suffix("")
    is_file = folder.is_file() if output else folder == Path(set_list)
    if is_file or (output and folder.suffix and not output.endswith(("/", "\\"))):
        raise refused("--output", str(folder), "a folder, e.g. -o friday/")
    return folder


def _kinds(text: str | None) -> tuple[str, ...]:
    """Return the kinds of files that are made, in their usual order."""
    expected = "kinds of files, e.g. mid,sheet,mp3"
    asked = [chosen("--as", name, GIG_KINDS) for name in parse_names(text, "--as", expected)]
    return tuple(kind for kind in GIG_KINDS if kind in (asked or USUAL_GIG_KINDS))


def _print_made(made: "MadeSet", maker: "GigMaker", *, as_json: bool) -> None:
    """Print the running order, then what was made and what could not be."""
    from groove.gig.running_order import order_data, order_text

    if as_json:
        files, removed = (
            [str(maker.folder / name) for name in names]
            for names in (made.files, made.dropped.removed)
        )
        told = {**order_data(made.order), "files": files, "removed": removed}
        put_json({"format": 1, "set": maker.set_list, **told})
    else:
        put(order_text(made.order))
    say(f"{made.new} made, {made.kept} as they were, in {maker.folder}")
    if made.dropped.removed:
        say(f"  removed, no longer in the set: {', '.join(made.dropped.removed)}")
    if made.dropped.kept:
        names = ", ".join(made.dropped.kept)
        say(f"  left there, though no longer in the set, for they were changed: {names}")
    for notice in made.notices:
        say(f"  {notice}")
    for failed in made.failures:
        say(failed.report())
    if made.new or made.kept:
        say(CAUTION)
