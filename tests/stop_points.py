"""A command stopped at every open, write, flush and rename of its output, or at some of them.

    python -m tests.stop_points KIND [POINT ...]      in an empty folder

The command goes as far as its output once; there it forks for every point and signal, so that each
trial is the real process from there on.  Prints a line of JSON a trial; what was left stands in the
folder ``seen`` under its checksum, for outside readers to judge.
"""

import hashlib
import io
import json
import os
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from groove.cli.interrupts import stop_cleanly
from groove.cli.main import main
from groove.io import files
from tests.kills import KINDS, OLD, fill

POINTS = tuple(
    f"{when} {what}"
    for what in ("open", "lock", "write", "flush", "fsync", "rename")
    for when in ("before", "in", "after")
    if when != "in" or what == "write"
)
FEW = ("in write", "after rename")
"""Where a file is torn that is not written whole, and where it is the new one."""
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)


class Stops:
    """Where the process that is running now is stopped."""

    def __init__(self, target: Path, points: Sequence[str]) -> None:
        self.target = target
        self.points = points
        self.point = ""
        self.signal = signal.SIGINT
        self.is_forked = False

    def at(self, point: str) -> None:
        """Be at a point: fork for all of them at the first, be stopped at one's own."""
        if not self.is_forked and point == "before open":
            self.is_forked = True
            for trial in ((point, number) for point in self.points for number in SIGNALS):
                if self.is_trial(*trial):
                    return
            os._exit(0)
        if self.is_forked and point == self.point:
            os.kill(os.getpid(), self.signal)

    def is_trial(self, point: str, number: signal.Signals) -> bool:
        """Fork; return True in the child, and report on it in the parent."""
        self.target.write_bytes(OLD)
        told = Path("seen", "told")
        child = os.fork()
        if child == 0:
            error = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(error, 2)
            self.point, self.signal = point, number
            if point == "before open":
                os.kill(os.getpid(), number)
            return True
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        data = self.target.read_bytes()
        digest = hashlib.sha256(data).hexdigest()
        Path("seen", digest + self.target.suffix).write_bytes(data)
        left = sorted(path.name for path in Path().glob(".groove-*"))
        if number is signal.SIGKILL:
            self.next_run()
        swept = sorted(path.name for path in Path().glob(".groove-*"))
        row = {"point": point, "signal": number, "code": code, "told": told.read_text()}
        print(json.dumps({**row, "file": digest, "left": left, "swept": swept}), flush=True)
        return False

    def next_run(self) -> None:
        """Do what the next process does before it writes into the folder."""
        child = os.fork()
        if child == 0:
            files._swept.clear()
            files.write_whole(Path("next.txt"), b"next")
            os._exit(0)
        os.waitpid(child, 0)
        Path("next.txt").unlink()


class StoppedFile(io.RawIOBase):
    """The file that an output is written through."""

    def __init__(self, descriptor: int, stops: Stops) -> None:
        self.file = open(descriptor, "wb")  # noqa: SIM115
        self.stops = stops

    def write(self, data: Any) -> int:
        """Write in two halves."""
        self.stops.at("before write")
        half = len(data) // 2
        self.file.write(data[:half])
        self.file.flush()
        self.stops.at("in write")
        self.file.write(data[half:])
        self.stops.at("after write")
        return len(data)

    def flush(self) -> None:
        if not self.file.closed:
            self.stops.at("before flush")
            self.file.flush()
            self.stops.at("after flush")

    def close(self) -> None:
        self.file.close()
        super().close()


def hook(name: str, point: str, stops: Stops, of: Callable[..., bool]) -> None:
    """Stop before and after a function of ``os`` where it is about the output."""
    real = getattr(os, name)

    def hooked(*arguments: Any, **named: Any) -> Any:
        if not of(*arguments):
            return real(*arguments, **named)
        stops.at(f"before {point}")
        result = real(*arguments, **named)
        stops.at(f"after {point}")
        return result

    setattr(os, name, hooked)


def run(kind: str, points: Sequence[str]) -> None:
    """Stop one kind of output at these of ``POINTS``."""
    command = KINDS[kind]
    fill(Path(), command)
    Path("seen").mkdir()
    stops = Stops(Path(command[command.index("-o") + 1]).resolve(), points)
    home = f"{Path().resolve()}/.groove-"
    hook("open", "open", stops, lambda path, *_: str(path).startswith(home))
    hook("replace", "rename", stops, lambda path, *_: str(path).startswith(home))
    hook("fsync", "fsync", stops, lambda _descriptor: True)
    real_lock, real_fdopen = files._lock, os.fdopen

    def lock(descriptor: int) -> None:
        stops.at("before lock")
        real_lock(descriptor)
        stops.at("after lock")

    def fdopen(descriptor: int, *how: Any, **named: Any) -> Any:
        if how == ("wb",):
            return StoppedFile(descriptor, stops)
        return real_fdopen(descriptor, *how, **named)

    files._lock = lock
    os.fdopen = fdopen  # type: ignore[assignment]
    stop_cleanly()
    sys.argv = ["groove", *command]
    main()


if __name__ == "__main__":
    run(sys.argv[1], sys.argv[2:] or POINTS)
