"""The folder of a gig: what was made of which inputs, so that only what has changed is made again.

A record a song, written after its files: whatever moment a run is killed at, a song is either told
of as it stands there, or made again.  Two runs at once write the same files whole, one after the
other.
"""

import hashlib
import json
import os
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import msgspec

from groove.errors import OutputError
from groove.gig.running_order import SongRecord
from groove.io.charts import SUFFIXES, chart_file, read_limited
from groove.io.config import config_path
from groove.io.files import make_folders, write_whole
from groove.io.library import pattern_paths
from groove.io.pdf import DATE

RECORDS = ".groove-gig"
"""Where the records lie, inside the folder."""
LARGEST_SET_BYTES = 1_048_576
_MAKERS = ("verovio", "typst", "mido", "soundfile")
"""Packages whose version may change what is made."""
_PACKAGE = Path(__file__).resolve().parents[1]


class GigFolderError(OutputError):
    """The folder takes no files: nothing more of a set can be made."""


class Dropped(msgspec.Struct, frozen=True):
    """Files of songs that are no longer in the set: removed, and kept for somebody changed them."""

    removed: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


def read_set_text(name: str) -> str:
    """Return the text of a set list.  Raises OptionError where it cannot be read."""
    return read_limited(name, LARGEST_SET_BYTES).decode("utf-8", "replace")


def chart_of(name: str, beside: Path) -> str:
    """Return the file that a set list means by a chart's name, from the list's own folder on.

    A name without a suffix is that of a file with one of ours, where there is such a file.
    """
    path = beside / name
    if not Path(chart_file(str(path))).exists() and not path.suffix:
        for suffix in SUFFIXES:
            if path.with_suffix(suffix).is_file():
                return str(path.with_suffix(suffix))
    return str(path)


@dataclass(frozen=True, slots=True)
class GigFolder:
    """A folder with the files of a gig and a record of each song."""

    path: Path

    def prepare(self) -> None:
        """Make the folder where it is not there.

        Raises GigFolderError, before any work is done, where it takes no files.
        """
        try:
            make_folders([self.path, self.path / RECORDS])
        except OutputError as error:
            raise GigFolderError(error.message, hint=error.hint) from None

    def write(self, name: str, data: bytes) -> str:
        """Write a file whole, unless it stands there already; return the SHA-256 of its contents.

        Raises GigFolderError where it cannot be written.
        """
        path = self.path / name
        digest = sha256(data).hexdigest()
        if file_digest(path) != digest:
            try:
                write_whole(path, data)
            except OutputError as error:
                raise GigFolderError(error.message, hint=error.hint) from None
        return digest

    def read(self, name: str) -> bytes:
        """Return the contents of a file of the folder.  Raises GigFolderError."""
        try:
            return (self.path / name).read_bytes()
        except OSError as error:
            raise GigFolderError(f"cannot read {self.path / name}: {error.strerror}") from None

    def record(self, stem: str) -> SongRecord | None:
        """Return what is recorded of a song and stands there still, None where it is to be made."""
        found = self._recorded(stem)
        if found is None:
            return None
        files = found.files.items()
        is_there = all(file_digest(self.path / name) == digest for name, digest in files)
        return found if is_there else None

    def _recorded(self, stem: str) -> SongRecord | None:
        try:
            data = (self.path / RECORDS / f"{stem}.json").read_bytes()
            return msgspec.json.decode(data, type=SongRecord)
        except (OSError, msgspec.DecodeError):
            return None

    def keep(self, stem: str, record: SongRecord) -> None:
        """Note what was made of a song, once all of its files are written."""
        self.write(f"{RECORDS}/{stem}.json", msgspec.json.encode(record) + b"\n")

    def drop_others(self, stems: Collection[str], set_list: str) -> Dropped:
        """Remove what was made for a set list of other songs than ``stems``, record last.

        A file goes only where it holds what was written there: what somebody changed since stays,
        and so do files that a song of the set has too.  A file that cannot be removed stays.
        """
        records = {path.stem for path in (self.path / RECORDS).glob("*.json")}
        wanted = {name for stem in stems for name in self._files_of(stem)}
        removed: list[str] = []
        kept: list[str] = []
        for stem in sorted(records - set(stems)):
            found = self._recorded(stem)
            if found is None or found.set_list != set_list:
                continue
            for name, digest in found.files.items():
                path = self.path / name
                if name in wanted or not path.exists():
                    continue
                is_ours = file_digest(path) == digest
                (removed if is_ours and _is_removed(path) else kept).append(name)
            _is_removed(self.path / RECORDS / f"{stem}.json")
        return Dropped(tuple(removed), tuple(kept))

    def _files_of(self, stem: str) -> Iterable[str]:
        found = self._recorded(stem)
        return found.files if found else ()


def _is_removed(path: Path) -> bool:
    """Remove a file; return whether it is gone."""
    try:
        path.unlink()
    except OSError:
        return False
    return True


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file's contents, empty where it cannot be read."""
    try:
        with path.open("rb") as file:  # a record may be large
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def fingerprint(chart: str, patterns: Path | None, font: Path | None, asked: object) -> str:
    """Return what stands for all that a song is made of: files by contents, and what is asked.

    ``font`` is the soundfont where sound is made, told apart by size and time, for it may be
    large; ``asked`` is plain data.
    """
    found = [
        program_digest(),
        file_digest(Path(chart_file(chart))),
        file_digest(config_path()),
        *(file_digest(path) for path in sorted(pattern_paths(patterns) if patterns else ())),
        _font_mark(font),
        os.environ.get(DATE, ""),
        json.dumps(asked, sort_keys=True),
    ]
    return sha256("\n".join(found).encode()).hexdigest()


def _font_mark(font: Path | None) -> str:
    if font is None:
        return ""
    state = font.stat()
    return f"{font} {state.st_size} {state.st_mtime_ns}"


_SOURCE_SUFFIXES = frozenset({".py", ".js", ".css", ".html"})


@cache
def program_digest() -> str:
    """Return what stands for the program itself: its sources, the patterns, the makers."""
    sources = (path for path in _PACKAGE.rglob("*") if path.suffix in _SOURCE_SUFFIXES)
    every = [*sorted(sources), *sorted(pattern_paths(None))]
    whole = sha256()
    for digest in map(file_digest, every):
        whole.update(digest.encode())
    for name in _MAKERS:
        whole.update(_version(name).encode())
    return whole.hexdigest()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def set_mark(records: Iterable[str], order: Mapping[str, object]) -> str:
    """Return what stands for a gig book: its songs' fingerprints, and the running order."""
    return sha256(json.dumps([*records, order], sort_keys=True).encode()).hexdigest()
