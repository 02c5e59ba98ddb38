"""``groove feels``: what feels and cells there are."""

from typing import Annotated

import typer

from groove.cli.console import put, put_json
from groove.cli.options import JsonOption, Patterns
from groove.errors import OptionError


def feels(
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="A feel or a bass cell to draw, or a style to find."),
    ] = None,
    patterns: Patterns = None,
    measure: Annotated[
        bool, typer.Option("--measure", help="Play every feel and print what comes out.")
    ] = False,
    tokens: Annotated[
        bool, typer.Option("--tokens", help="Print what a row of a bass cell or riff may say.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """List the feels, all or those of a style, or draw the cells of one as a grid of slots."""
    from groove.arrange.names import unknown_feel_hint
    from groove.cells.library import find_cell
    from groove.cells.styles import named_feels
    from groove.cells.tokens import token_table
    from groove.io.library import load_library
    from groove.text.cells import cell_text, feel_data, feel_list, feel_text, other_cells

    if tokens:
        put(token_table())
        return
    library = load_library(patterns)
    cell = find_cell(library, "bass", name) if name else None
    found = named_feels(library, name) if name else list(library.feels.values())
    if name and not found and (measure or cell is None):
        raise OptionError(f"no such feel: {name!r}", hint=unknown_feel_hint(library, name))
    if measure:
        from groove.cli.measure import measure_feels

        measure_feels(library, found, as_json=json)
    elif not found and cell:
        put(cell_text(cell))
    elif json:
        for feel in found:
            put_json(feel_data(feel))
    elif name and len(found) == 1:
        put(feel_text(library, found[0]))
    else:
        put(feel_list(found) + ("" if name else other_cells(library)))
