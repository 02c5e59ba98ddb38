"""All cells and feels that a chart can name, from the mappings of their files.

Names are folded (``groove.naming``): capitals, doubled blanks and hyphens mean nothing.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Literal, TypeVar, get_args

from groove.cells.feels import read_feel
from groove.cells.fit import Family, meter_family, serves
from groove.cells.model import Cell, Feel, Library
from groove.cells.read import read_bass_cell, read_drum_cell, read_keys_cell
from groove.errors import CellError, nearest_hint
from groove.naming import fold_name
from groove.timing import Meter

Kind = Literal["bass", "drums", "keys", "feels"]
CellKind = Literal["bass", "drums", "keys"]
_Pattern = TypeVar("_Pattern", bound=Cell | Feel)

PATTERN_READERS: Mapping[Kind, Callable[[Mapping[str, object], str], Any]] = {
    "bass": read_bass_cell,
    "drums": read_drum_cell,
    "keys": read_keys_cell,
    "feels": read_feel,
}
"""What reads the files of each folder of patterns, by the folder's name."""

FAMILY_FEELS = {
    Family.QUARTERS: "straight eighths",
    Family.DOTTED: "six-eight",
    Family.UNITS: "seven-eight",
}
"""The feel offered for a meter that none is written for (common practice, no source)."""


class ByName(Mapping[str, _Pattern]):
    """Cells or feels by name, whichever way a name is written, in the order given."""

    def __init__(self, patterns: Iterable[_Pattern]) -> None:
        """Keep patterns that have different names."""
        self._patterns = {fold_name(pattern.name): pattern for pattern in patterns}

    def __getitem__(self, name: str) -> _Pattern:
        """Return the pattern of a name."""
        return self._patterns[fold_name(name)]

    def __iter__(self) -> Iterator[str]:
        """Yield every name in small letters."""
        return (pattern.name.casefold() for pattern in self._patterns.values())

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._patterns)


def library_from(
    files: Iterable[tuple[Kind, str, Mapping[str, object]]], under: Library | None = None
) -> Library:
    """Return the library of one folder's files, laid over another library.

    Each file is its folder (``bass``, ``drums``, ``keys``, ``feels``), its name for errors, and
    its mapping.  Names of this folder take the place of those in ``under``, in the feels of
    ``under`` too.  Raises CellError for a file that cannot be read, for a name that stands twice
    in the folder, and for a feel whose cells are missing or cannot be played in its meter.
    """
    found: dict[Kind, dict[str, Any]] = {kind: {} for kind in PATTERN_READERS}
    for kind, source, mapping in files:
        _add_once(found[kind], PATTERN_READERS[kind](mapping, source))
    below = under or Library()
    library = Library(
        bass=_laid_over(found["bass"], below.bass),
        drums=_laid_over(found["drums"], below.drums),
        keys=_laid_over(found["keys"], below.keys),
        feels=_laid_over(found["feels"], below.feels),
    )
    for feel in library.feels.values():
        check_feel(library, feel)
    return library


def _add_once(values: dict[str, Any], value: Cell | Feel) -> None:
    """Add a cell or feel under its folded name, refusing the name's second use."""
    folded = fold_name(value.name)
    if folded in values:
        raise CellError(
            f"found {value.name!r}, which {values[folded].source} is called already",
            source=value.source,
            path="name",
            hint="give one of them another name",
        )
    values[folded] = value


def _laid_over(upper: dict[str, _Pattern], lower: Mapping[str, _Pattern]) -> Mapping[str, _Pattern]:
    """Return both by name in alphabetical order, the upper where both have a name."""
    both = {fold_name(pattern.name): pattern for pattern in (*lower.values(), *upper.values())}
    return ByName(both[name] for name in sorted(both))


def check_feel(library: Library, feel: Feel) -> None:
    """Refuse a feel that names a cell which is not there, or not playable in its meter."""
    named: list[tuple[str, CellKind, str]] = [
        ("bass", "bass", feel.bass),
        ("drums", "drums", feel.drums),
        ("keys", "keys", feel.keys),
    ]
    if feel.fast:
        named.append(("fast.drums", "drums", feel.fast[1]))
    for path, kind, name in named:
        cell = find_cell(library, kind, name)
        if cell is None:
            known = [other.name for other in cells_of(library, kind).values()]
            message = f"found {name!r}, but there is no such {kind} cell"
            hint = nearest_hint(name, known) or f"expected the name of a file in {kind}/"
            raise CellError(message, source=feel.source, path=path, hint=hint)
        if not fits(cell, feel.meter):
            cell_meter, wanted = cell.meter, feel.meter or "any meter"
            message = (
                f"found {name!r} in {cell_meter} ({cell.source}), expected a cell for {wanted}"
            )
            raise CellError(message, source=feel.source, path=path)


def fits(cell: Cell, meter: Meter | None) -> bool:
    """Return whether a cell can be played in a meter, None for every meter."""
    if meter is None:
        return cell.meter is None
    return serves(cell.meter, cell.slots_per_beat, meter)


def cells_of(library: Library, kind: CellKind) -> Mapping[str, Cell]:
    """Return all cells of a kind by folded name."""
    cells: Mapping[str, Cell] = getattr(library, kind)
    return cells


def find_cell(library: Library, kind: CellKind, name: str) -> Cell | None:
    """Return the cell of a kind that a chart names, None where there is none."""
    return cells_of(library, kind).get(fold_name(name))


def find_cells(library: Library, name: str) -> list[Cell]:
    """Return the cells of a name, of bass, drums and keys in this order."""
    found = (find_cell(library, kind, name) for kind in get_args(CellKind))
    return [cell for cell in found if cell]


def find_feel(library: Library, name: str) -> Feel | None:
    """Return the feel that a chart names, None where there is none."""
    return library.feels.get(fold_name(name))


def nearest_name(library: Library, kind: CellKind, name: str, own: Iterable[str] = ()) -> str:
    """Return ``nearest: NAME`` of the library and a chart's ``own`` names, or an empty string."""
    values = cells_of(library, kind).values()
    return nearest_hint(fold_name(name), [*own, *(value.name for value in values)])


def feel_serves(library: Library, feel: Feel, meter: Meter) -> bool:
    """Return whether every cell of a feel can be played in a meter."""
    cells = (library.bass, feel.bass), (library.drums, feel.drums), (library.keys, feel.keys)
    return all(fits(known[fold_name(name)], meter) for known, name in cells)


def nearest_feel_for(library: Library, meter: Meter) -> Feel:
    """Return the feel to offer where the feel that was asked for cannot be played in a meter.

    The feel of the meter's family if it is written in that very meter; else one that is, the usual
    one of the meter first; else the one of the family; else, in a library of somebody's own, the
    first by name that serves.
    Raises CellError where no feel of the library serves the meter.
    """
    family = find_feel(library, FAMILY_FEELS[meter_family(meter)])
    feels = library.feels.values()
    ranked = [
        *(feel for feel in (family,) if feel and feel.meter == meter),
        *(feel for feel in feels if feel.meter == meter and meter in feel.default_for),
        *(feel for feel in feels if feel.meter == meter),
        *(feel for feel in (family,) if feel),
        *feels,
    ]
    for feel in ranked:
        if feel_serves(library, feel, meter):
            return feel
    raise CellError(f"found no feel for {meter}", source="the library", path="feels")


def default_feel(library: Library, meter: Meter) -> Feel:
    """Return the feel of a chart that names none: the one that says so, else the nearest."""
    for feel in library.feels.values():
        if meter in feel.default_for and feel_serves(library, feel, meter):
            return feel
    return nearest_feel_for(library, meter)
