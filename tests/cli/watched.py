"""A ``groove … --watch``: in a process of its own, what it says within a bound; or in this one.

In this one nothing is waited for: the files are saved, and looked at, when the test says so.
"""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from queue import Queue
from typing import Self

from groove.io.watch import FileWatch
from tests.cli.command import Command
from tests.conftest import ROOT

START_SEC = 60.0
"""How long loading and the first round may take, on a busy machine."""
HEARD_SEC = 2.0
"""Within what an edit must be heard (no source: as long as a player waits)."""


class Watched:
    """The running command; it is ended with its block."""

    def __init__(self, folder: Path, command: Sequence[str]) -> None:
        self.folder = folder
        self.said: list[str] = []
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "XDG_CONFIG_HOME": str(folder / "no-config"),
        }
        environment.pop("GROOVE_SOUNDFONT", None)
        self._process = subprocess.Popen(
            [sys.executable, "-m", "groove", *command],
            cwd=folder,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._lines: Queue[str] = Queue()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._lines.put(line.rstrip("\n"))

    def line(self, part: str, *, most_sec: float = START_SEC) -> str:
        """Return the next line with a text in it; queue.Empty where none comes in time."""
        while True:
            line = self._lines.get(timeout=most_sec)
            self.said.append(line)
            if part in line:
                return line

    def save(self, name: str, text: str) -> None:
        """Write a file in place."""
        (self.folder / name).write_text(text, encoding="utf-8")

    def stop(self) -> int:
        """Press Ctrl-C; return the exit code."""
        self._process.send_signal(signal.SIGINT)
        code = self._process.wait(START_SEC)
        self._reader.join()
        while not self._lines.empty():
            self.said.append(self._lines.get())
        return code


def watched_here(
    groove: Command, words: Sequence[str], saves: Sequence[Callable[[], object]]
) -> list[str]:
    """Watch in this process; return what was said before the first save, and after each.

    Standard output comes before standard error.  The watch is ended as by Ctrl-C.
    """
    said: list[str] = []

    def hear() -> None:
        heard = groove.capsys.readouterr()
        said.append(heard.out + heard.err)

    def changes(watch: FileWatch, stop: None = None) -> Iterator[frozenset[Path]]:
        for save in saves:
            hear()
            save()
            yield watch.changed()
        hear()
        raise SystemExit(130)

    groove.monkeypatch.setattr("groove.io.watch.FileWatch.changes", changes)
    assert groove(*words, "--watch").code == 130
    assert len(said) == len(saves) + 1
    return said
