"""``groove feels``: what feels and cells there are."""

from typing import Annotated

import typer

from groove.cli.console import put, put_json
from groove.cli.options import Json, Patterns
from groove.errors import OptionError


def feels(
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="A feel or a bass cell to draw.")
    ] = None,
    patterns: Patterns = None,
    measure: Annotated[
        bool, typer.Option("--measure", help="Play every feel and print what comes out.")
    ] = False,
    tokens: Annotated[
        bool, typer.Option("--tokens", help="Print what a row of a bass cell or riff may say.")
    ] = False,
    json: Json = False,
) -> None:
    """List the feels, or draw the cells of one as a grid of slots."""
    from groove.arrange.plan import unknown_hint
    from groove.cells.library import find_cell, find_feel
    from groove.cells.tokens import token_table
    from groove.io.library import load_library
    from groove.text.cells import cell_text, feel_data, feel_list, feel_text

    if tokens:
        put(token_table())
        return
    library = load_library(patterns)
    if measure:
        from groove.cli.measure import measure_feels

        measure_feels(library, name, as_json=json)
        return
    feel = find_feel(library, name) if name else None
    if name and feel is None:
        cell = find_cell(library, "bass", name)
        if cell is None:
            raise OptionError(f"no such feel: {name!r}", hint=unknown_hint(library, "feels", name))
        put(cell_text(cell))
    elif json:
        chosen = [feel] if feel else list(library.feels.values())
        for one in chosen:
            put_json(feel_data(one))
    else:
        put(feel_text(library, feel) if feel else feel_list(library))
