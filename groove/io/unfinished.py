"""What lies on the disk and is not finished yet, for a process that must stop at once.

Small, for it is loaded before everything else.
"""

from collections.abc import Callable

_removers: dict[str, Callable[[], object]] = {}


def begin(path: str, remove: Callable[[], object]) -> None:
    """Note a path that is about to be made, and what removes it."""
    _removers[path] = remove


def end(path: str) -> None:
    """Forget a path: it is finished, or has been removed."""
    _removers.pop(path, None)


def remove_unfinished() -> None:
    """Remove whatever is not finished; what cannot be removed stays."""
    for path, remove in list(_removers.items()):
        try:
            remove()
        except OSError:
            continue
        end(path)
