"""Work for a crew: a piece that kills its worker, one that takes too long, one that is noted."""

import os
import signal
import sys
import time
from pathlib import Path

from groove.io.files import write_whole


def square(number: int) -> str:
    """Return a square; over a 3 the process dies."""
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return str(number * number)


def lost(number: int, code: int) -> str:
    """Return what stands for a piece that was lost."""
    return f"lost({number},{code})"


def noted(begun: Path, item: int) -> int:
    """Return ten times an item, and note in a file that it was begun."""
    with begun.open("a") as file:
        file.write(f"{item} ")
    return 10 * item


def process_and_session(_: int) -> str:
    """Return whether this process has what only its maker has, and a session of its own."""
    is_copy = hasattr(sys, "loaded_here")
    return f"copy={is_copy} own={os.getsid(0) == os.getpid()}"


def never_written(path: str) -> str:
    """Write a file to a disk that does not answer."""
    os.fsync = lambda fd: time.sleep(60)
    write_whole(Path(path), b"new")
    return path
