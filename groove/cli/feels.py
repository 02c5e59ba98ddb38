"""``groove feels``: what feels and cells there are."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from groove.cli.console import put, put_json
from groove.cli.options import JsonOption, Patterns
from groove.errors import OptionError

if TYPE_CHECKING:
    from groove.cells.model import Cell, Feel, Library


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
    elif json:
        _put_data(found, cells)
    else:
        _put_text(library, found, cells, lists_cells=not name)


def _put_data(feels: "Sequence[Feel]", cells: "Sequence[Cell]") -> None:
    """Print feels as data, a line each, or cells where there is no feel."""
    from groove.text.cells import cell_data, feel_data

    for data in map(feel_data, feels) if feels else map(cell_data, cells):
        put_json(data)


def _put_text(
    library: "Library", feels: "Sequence[Feel]", cells: "Sequence[Cell]", *, lists_cells: bool
) -> None:
    """Print cells drawn where there is no feel, one feel drawn, or a list of several."""
    from groove.text.cells import cell_list, cell_text, feel_list, feel_text

    if not feels:
        put("\n".join(map(cell_text, cells)))
    elif len(feels) == 1 and not lists_cells:
        put(feel_text(library, feels[0]))
    else:
        put(feel_list(feels) + (cell_list(library) if lists_cells else ""))
