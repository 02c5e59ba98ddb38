"""Writing a file whole or not at all, and telling whether two paths are one file.

The bytes go to a new file in the same folder, which then takes the place of the old one in one
step (``os.replace``), so that a full disk or an interruption never leaves half a file, nor spoils
the one that was there.  What a killed process left behind is removed by the next one that writes
into the folder: a new file is locked for as long as its process lives.
"""

import os
import re
import stat
import sys
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path

from groove.errors import OutputError
from groove.io import unfinished

if sys.platform == "win32":
    fcntl = None  # a file that is open cannot be removed there: it needs no lock
else:
    import fcntl

FileNumber = tuple[int, int]
"""A file's device and its number there."""

_UNFINISHED_NAME = re.compile(r"\.groove-[0-9a-f]{16}\.tmp")
_NO_FOLLOW = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_BINARY = getattr(os, "O_BINARY", 0)
_swept: set[Path] = set()
"""Folders in which this process has looked for what others left."""


def write_whole(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path`` so that the file appears complete or not at all.

    A file that is replaced keeps its permissions, a new one gets those of the umask; a symbolic
    link keeps pointing, its target is replaced.  Raises ``OutputError`` for a folder, a device, a
    folder that is missing or cannot be written, or a full disk; nothing is left behind.
    """
    try:
        target = path.resolve()
        _refuse_unless_replaceable(path, target)
        _remove_left_behind(target.parent)
        while not _written(target, data):
            pass
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: links in a circle
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"cannot write {path}: {reason}", hint="write somewhere else") from None


def write_until_stopped(path: Path, data: bytes) -> None:
    """Write a file as ``write_whole`` does that is removed when the process is told to stop."""
    unfinished.begin(str(path), partial(_remove, path))
    write_whole(path, data)


def _written(target: Path, data: bytes) -> bool:
    """Write and rename a new file; return False where another process took it for left behind."""
    with _new_path(target.parent) as temporary:
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
        with os.fdopen(descriptor, "wb") as file:
            _lock(descriptor)
            if os.fstat(descriptor).st_nlink == 0:
                return False
            if target.exists():
                temporary.chmod(stat.S_IMODE(target.stat().st_mode))
            file.write(data)
            file.flush()
            os.fsync(descriptor)  # else a crash after the rename could leave an empty file
            if fcntl is not None:
                temporary.replace(target)
        if fcntl is None:  # a file that is open cannot be renamed there
            temporary.replace(target)
    return True


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """Make a folder for other libraries to read from, and remove it at the end.

    Raises ``OutputError`` where the machine's folder for temporary files has no room for it.
    """
    import shutil  # noqa: F401  (so that nothing has to be loaded where the process is stopped)
    import tempfile

    try:
        home = Path(tempfile.gettempdir()).resolve()
        _remove_left_behind(home)
        with _new_path(home) as folder:
            folder.mkdir(mode=0o700)
            descriptor = os.open(folder, os.O_RDONLY) if fcntl is not None else None
            try:
                if descriptor is not None:
                    _lock(descriptor)
                yield folder
            finally:
                if descriptor is not None:
                    os.close(descriptor)
    except OSError as error:
        raise OutputError(
            f"cannot use the folder for temporary files: {error.strerror or error}",
            hint="make room there, or name another folder in the variable TMPDIR",
        ) from None


@contextmanager
def _new_path(folder: Path) -> Iterator[Path]:
    """Yield a name of ours that is free, and remove what stands there in the end."""
    # What secrets.token_hex does, without loading every hash: a command is to start at once.
    path = folder / f".groove-{os.urandom(8).hex()}.tmp"
    unfinished.begin(str(path), partial(_remove, path))
    try:
        yield path
    finally:  # an interruption must not leave it either
        with suppress(OSError):
            _remove(path)
        unfinished.end(str(path))


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        import shutil

        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _lock(descriptor: int) -> None:
    """Lock a file for as long as this process lives and has it open."""
    if fcntl is not None:
        with suppress(OSError):  # some network disks have no locks: nobody removes it there
            fcntl.flock(descriptor, fcntl.LOCK_EX)


def _remove_left_behind(folder: Path) -> None:
    """Remove what killed processes left in a folder, once a process; a failure is no matter."""
    if fcntl is None or folder in _swept:
        return
    _swept.add(folder)
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _UNFINISHED_NAME.fullmatch(entry.name):
                with suppress(OSError):
                    _remove_if_unlocked(Path(entry.path))


def _remove_if_unlocked(path: Path) -> None:
    """Remove a file or folder of ours whose process has ended: the lock ended with it."""
    descriptor = os.open(path, os.O_RDONLY | _NO_FOLLOW)
    try:
        found = os.fstat(descriptor)
        is_ours = stat.S_ISREG(found.st_mode) or stat.S_ISDIR(found.st_mode)
        if is_ours and found.st_uid == os.geteuid():
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            _remove(path)
    finally:
        os.close(descriptor)


def make_folders(folders: Iterable[Path]) -> None:
    """Make the folders that are not there.  Raises ``OutputError`` where that cannot be done."""
    for folder in folders:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(
                f"cannot make the folder {folder}: {error.strerror}", hint="write somewhere else"
            ) from None


def file_number(path: Path | int) -> FileNumber | None:
    """Return what all names of one file share: links, and other spellings of its path.

    ``path`` may be a descriptor.  None for a file that is not there.
    """
    try:
        found = os.fstat(path) if isinstance(path, int) else path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino


def file_place(path: Path) -> str:
    """Return where a file is or will be, the same for every spelling of the path.

    In small letters, for on many disks ``Song.mid`` and ``song.mid`` are one file.
    """
    try:
        place = str(path.resolve())
    except (OSError, ValueError, RuntimeError):  # links in a circle: told where it is opened
        place = str(path)
    return unicodedata.normalize("NFC", place).casefold()


def _refuse_unless_replaceable(path: Path, target: Path) -> None:
    if target.is_dir():
        raise OutputError(f"cannot write {path}: it is a folder", hint="add a file name to it")
    if target.exists() and not target.is_file():
        raise OutputError(f"cannot write {path}: it is not a regular file", hint="name a file")
    if not target.parent.is_dir():
        raise OutputError(
            f"cannot write {path}: there is no folder {target.parent}",
            hint="make the folder first",
        )
