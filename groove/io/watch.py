"""Which of some files have changed, told soon after they were saved.

The system tells that something happened in a folder; whether it concerns us is seen at the files
themselves.  Editors save in many ways (in place, by a new file renamed over the old one, deleted
and made anew), but each ends in a file of another time, length or number.  They are looked at once
a second all the same: a network disk tells nothing, nor does a folder that was made anew.
"""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Protocol

from groove.errors import OutputError

LOOK_MS = 1000
"""The longest time between two looks at the files."""
QUIET_MS = 50
"""How long a folder must be quiet: an editor makes several changes to save once."""
BUSY_MS = 400
"""How long is waited where it never is."""

_Stamp = tuple[int, int, int]


class Stop(Protocol):
    """What ends a watch, as ``threading.Event`` does."""

    def is_set(self) -> bool:
        """Return whether it is to end."""
        ...


class FileWatch:
    """Looks at files again and again: from when it is made, none of their changes is missed."""

    def __init__(self, files: Callable[[], Iterable[Path]]) -> None:
        """``files`` names them anew for every look, for some may come later."""
        self._files = files
        self._seen = self._stamps()

    def changed(self) -> frozenset[Path]:
        """Return the files that are others than at the last look: saved, new, or gone."""
        before, self._seen = self._seen, self._stamps()
        now = self._seen
        return frozenset(file for file in before | now if before.get(file) != now.get(file))

    def changes(self, stop: Stop | None = None) -> Iterator[frozenset[Path]]:
        """Yield the files that have changed, each time that some have, until it is stopped.

        Raises OutputError where the system refuses to tell.
        """
        from watchfiles import watch

        folders = {
            parent
            for file in self._files()
            for parent in (file.parent, file.resolve().parent)
            if parent.is_dir()
        }
        looks = watch(
            *sorted(folders),
            watch_filter=None,
            recursive=False,
            step=QUIET_MS,
            debounce=BUSY_MS,
            rust_timeout=LOOK_MS,
            yield_on_timeout=True,
            ignore_permission_denied=True,
            stop_event=stop,
        )
        try:
            for _ in looks:
                if changed := self.changed():
                    yield changed
        except RuntimeError as error:  # the library's own, as where the system's watches run out
            raise OutputError(f"cannot watch {len(folders)} folders: {error}") from None

    def _stamps(self) -> dict[Path, _Stamp]:
        stamped = ((file, _stamp(file)) for file in self._files())
        return {file: stamp for file, stamp in stamped if stamp is not None}


def _stamp(file: Path) -> _Stamp | None:
    """Return what a save changes of a file, None where there is none."""
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns, found.st_size
