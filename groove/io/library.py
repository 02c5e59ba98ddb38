"""Where the patterns live on disk: those that come with groove, and a player's own folder.

A folder of patterns has the folders ``bass``, ``drums``, ``keys`` and ``feels`` (any of them may
be missing), with one cell or feel in each ``.toml`` file.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from groove.cells.library import PATTERN_READERS, Kind, library_from
from groove.cells.model import Library
from groove.cells.toml_bytes import LARGEST_TOML_BYTES, toml_mapping
from groove.errors import CellError
from groove.naming import fold_name

_LONGEST_SHOWN = 60
SUFFIX = ".toml"


def patterns_root() -> Path:
    """Return the folder of cells: inside an installed package, or beside it in a checkout."""
    # ``importlib.resources``, which finds it in an archive too, takes as long to load as tomllib.
    package = Path(__file__).resolve().parents[1]
    packaged = package / "patterns"
    return packaged if packaged.is_dir() else package.parent / "patterns"


def load_library(own_folder: Path | None = None) -> Library:
    """Return every cell and feel that a chart can name.

    ``own_folder`` is a player's own folder of patterns, searched first: its names take the place
    of shipped ones.  The shipped part is read once in a process, the player's own every time.
    Raises CellError for a folder that is missing or holds no folder of patterns, and for the
    first file that cannot be used.
    """
    if own_folder is None:
        return _shipped_library()
    try:
        if not own_folder.is_dir():
            found = "a file" if own_folder.exists() else "nothing"
            expected = "expected a folder of patterns with bass, drums, keys or feels in it"
            raise CellError(f"found {found}, {expected}", source=str(own_folder), path="")
    except OSError as error:
        hint = "expected a folder of patterns"
        reason = error.strerror or str(error)
        shown = str(own_folder)[:_LONGEST_SHOWN]
        raise CellError(f"no folder: {reason}", source=shown, path="", hint=hint) from None
    if not any((own_folder / kind).is_dir() for kind in PATTERN_READERS):
        raise CellError(
            "found none of the folders bass, drums, keys, feels",
            source=str(own_folder),
            path="",
            hint="a bass cell is kept as bass/NAME.toml in this folder",
        )
    return library_from(_pattern_files(own_folder, f"{own_folder}/"), under=_shipped_library())


@cache
def _shipped_library() -> Library:
    """Return the cells and feels that come with groove, each read when it is first asked for.

    That they are whole and fit each other is a matter for the tests, not for every start.
    """
    root = patterns_root()
    return Library(
        bass=ShippedPatterns("bass", root),
        drums=ShippedPatterns("drums", root),
        keys=ShippedPatterns("keys", root),
        feels=ShippedPatterns("feels", root),
    )


class ShippedPatterns(Mapping[str, Any]):
    """One folder of shipped patterns by folded name, in alphabetical order.

    A song needs four or five of the files: reading all of them takes as long as playing it.
    """

    def __init__(self, kind: Kind, root: Path) -> None:
        """Look at the names of the files alone."""
        self.kind = kind
        self.unread = {file.name.removesuffix(SUFFIX): file for file in _toml_files(root / kind)}
        self.read: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        """Return a pattern; it stands in the file of its name, as two-beat.toml or so."""
        folded = fold_name(name)
        if folded not in self.read:
            self.add(folded.replace(",", "").replace(" ", "-"))
        return self.read[folded]

    def __iter__(self) -> Iterator[str]:
        """Yield every name."""
        return (pattern.name.casefold() for pattern in self.all_read().values())

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.all_read())

    def add(self, stem: str) -> None:
        """Read one file, if there is such a one that was not read yet."""
        file = self.unread.pop(stem, None)
        if file is None:
            return
        source = f"patterns/{self.kind}/{file.name}"
        mapping = toml_mapping(_pattern_bytes(file, source), source)
        pattern = PATTERN_READERS[self.kind](mapping, source)
        self.read[fold_name(pattern.name)] = pattern

    def all_read(self) -> dict[str, Any]:
        """Return every pattern of the folder."""
        if self.unread:
            for stem in list(self.unread):
                self.add(stem)
            self.read = {name: self.read[name] for name in sorted(self.read)}
        return self.read


def pattern_paths(own_folder: Path | None) -> Iterator[Path]:
    """Yield where every pattern file lies, a player's own and the shipped ones."""
    for root in filter(None, (own_folder, patterns_root())):
        yield from own_pattern_paths(root)


def own_pattern_paths(folder: Path) -> Iterator[Path]:
    """Yield where every pattern file of one folder lies."""
    for kind in PATTERN_READERS:
        yield from _toml_files(folder / kind)


def _pattern_files(root: Path, shown_root: str) -> Iterator[tuple[Kind, str, dict[str, object]]]:
    """Yield the folder, the shown name and the mapping of every pattern file, in order of name."""
    for kind in PATTERN_READERS:
        for file in _toml_files(root / kind):
            source = f"{shown_root}{kind}/{file.name}"
            yield kind, source, toml_mapping(_pattern_bytes(file, source), source)


def _toml_files(folder: Path) -> list[Path]:
    """Return the pattern files of a folder in order of name, none where there is no folder."""
    if not folder.is_dir():
        return []
    files_found = (file for file in folder.iterdir() if file.name.endswith(SUFFIX))
    return sorted((file for file in files_found if file.is_file()), key=lambda file: file.name)


def _pattern_bytes(file: Path, source: str) -> bytes:
    """Return the bytes of a file, at most one more than a pattern may have."""
    try:
        with file.open("rb") as stream:
            return stream.read(LARGEST_TOML_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise CellError(f"cannot be read: {reason}", source=source, path="") from None
