"""Where the patterns live on disk: those that come with groove, and a player's own folder.

A folder of patterns has the folders ``bass``, ``drums``, ``keys`` and ``feels`` (any of them may
be missing), with one cell or feel in each ``.toml`` file.
"""

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from groove.cells.library import READERS, Kind, library_from
from groove.cells.model import Library
from groove.cells.toml_bytes import LARGEST_FILE_BYTES, toml_mapping
from groove.errors import CellError

SUFFIX = ".toml"


def patterns_root() -> Traversable:
    """Return the folder of cells: inside an installed package, or beside it in a checkout."""
    packaged = files("groove") / "patterns"
    if packaged.is_dir():
        return packaged
    return Path(__file__).resolve().parents[2] / "patterns"


def load_library(own_folder: Path | None = None) -> Library:
    """Return every cell and feel that a chart can name.

    ``own_folder`` is a player's own folder of patterns, searched first: its names take the place
    of shipped ones.  The shipped part is read once in a process, the player's own every time.
    Raises CellError for a folder that is missing or holds no folder of patterns, and for the
    first file that cannot be used.
    """
    if own_folder is None:
        return shipped_library()
    if not own_folder.is_dir():
        found = "a file" if own_folder.exists() else "nothing"
        expected = "expected a folder of patterns with bass, drums, keys or feels in it"
        raise CellError(f"found {found}, {expected}", source=str(own_folder), path="")
    if not any((own_folder / kind).is_dir() for kind in READERS):
        raise CellError(
            "found none of the folders bass, drums, keys, feels",
            source=str(own_folder),
            path="",
            hint="a bass cell is kept as bass/NAME.toml in this folder",
        )
    return library_from(pattern_files(own_folder, f"{own_folder}/"), under=shipped_library())


@cache
def shipped_library() -> Library:
    """Return the cells and feels that come with groove."""
    return library_from(pattern_files(patterns_root(), "patterns/"))


def pattern_files(
    root: Traversable, shown_root: str
) -> Iterator[tuple[Kind, str, dict[str, object]]]:
    """Yield the folder, the shown name and the mapping of every pattern file, in order of name."""
    for kind in READERS:
        folder = root / kind
        if folder.is_dir():
            for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
                if file.name.endswith(SUFFIX) and file.is_file():
                    source = f"{shown_root}{kind}/{file.name}"
                    yield kind, source, toml_mapping(read_limited(file, source), source)


def read_limited(file: Traversable, source: str) -> bytes:
    """Return the bytes of a file, at most one more than a pattern may have."""
    try:
        with file.open("rb") as stream:
            return stream.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise CellError(f"cannot be read: {reason}", source=source, path="") from None
