"""``groove feels``: what feels and cells there are."""

from typing import Annotated

import typer

from groove.cli.console import put, put_json
from groove.cli.options import JsonOption, Patterns
from groove.errors import OptionError


def feels(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[NAME]", help="A feel or a cell to draw, or a style to find."),
    ] = None,
    patterns: Patterns = None,
    measure: Annotated[
        bool, typer.Option("--measure", help="Play every feel and print figures of what comes out.")
    ] = False,
    tokens: Annotated[
        bool, typer.Option("--tokens", help="Print the signs of a bass cell or riff.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """List the feels and cells, or draw the rhythm of one."""
    from groove.arrange.names import unknown_feel_hint
    from groove.cells.library import find_cells
    from groove.cells.styles import named_feels
    from groove.cells.tokens import token_table
    from groove.io.library import load_library
    from groove.text.cells import cell_data, cell_list, cell_text, feel_data, feel_list, feel_text

    if tokens:
        put(token_table())
        return
    library = load_library(patterns)
    name = " ".join(words or ())
    cells = find_cells(library, name) if name else []
    found = named_feels(library, name) if name else list(library.feels.values())
    if name and not found and (measure or not cells):
        raise OptionError(f"no such feel or cell: {name!r}", hint=unknown_feel_hint(library, name))
    if measure:
        from groove.cli.measure import measure_feels

        measure_feels(library, found, as_json=json)
    elif not found and json:
        for cell in cells:
            put_json(cell_data(cell))
    elif not found:
        put("\n".join(map(cell_text, cells)))
    elif json:
        for feel in found:
            put_json(feel_data(feel))
    elif name and len(found) == 1:
        put(feel_text(library, found[0]))
    else:
        put(feel_list(found) + ("" if name else cell_list(library)))
