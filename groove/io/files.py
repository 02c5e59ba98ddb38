"""Writing a file whole or not at all.

The bytes go to a new file in the same folder, which then takes the place of the old one in one
step (``os.replace``), so that a full disk or an interruption never leaves half a file, nor spoils
the one that was there.
"""

import os
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from groove.errors import OutputError


def write_whole(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path`` so that the file appears complete or not at all.

    A file that is replaced keeps its permissions, a new one gets those of the umask; a symbolic
    link keeps pointing, its target is replaced.  Raises ``OutputError`` for a folder, a device, a
    folder that is missing or cannot be written, or a full disk; nothing is left behind.
    """
    try:
        target = path.resolve()
        _refuse_unless_replaceable(path, target)
        temporary = target.with_name(f".groove-{secrets.token_hex(8)}.tmp")
        try:
            _write_new(temporary, data, like=target)
            temporary.replace(target)
        except BaseException:  # an interruption must not leave the temporary file either
            temporary.unlink(missing_ok=True)
            raise
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: links in a circle
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"cannot write {path}: {reason}", hint="write somewhere else") from None


def make_folders(folders: Iterable[Path]) -> None:
    """Make the folders that are not there.  Raises ``OutputError`` where that cannot be done."""
    for folder in folders:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(
                f"cannot make the folder {folder}: {error.strerror}", hint="write somewhere else"
            ) from None


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


def _write_new(temporary: Path, data: bytes, *, like: Path) -> None:
    with temporary.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())  # else a crash after the rename could leave an empty file
    if like.exists():
        temporary.chmod(stat.S_IMODE(like.stat().st_mode))
