"""Commands stopped while they write: what they are run with, and what is wrong with what is left.

A file must be the old one to the byte, or open as a whole one (``tests.whole_files``, which loads
its readers where somebody asks).
"""

import os
import random
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.click_font import click_font

CHART = "title: Kills\ntempo: 180\nkey: D\nfeel: sixteenths\nverse:\n| D | G |\n"
OLD = b"what was there before"
FONT = ("--soundfont", "click.sf2")
KINDS: dict[str, tuple[str, ...]] = {
    "mid": ("render", "song.txt", "-o", "song.mid"),
    "wav": ("render", "song.txt", "-o", "song.wav", *FONT),
    "flac": ("render", "song.txt", "-o", "song.flac", *FONT),
    "ogg": ("render", "song.txt", "-o", "song.ogg", *FONT),
    "mp3": ("render", "song.txt", "-o", "song.mp3", *FONT),
    "txt": ("tab", "song.txt", "-o", "song-tab.txt"),
    "neck": ("neck", "song.txt", "-o", "song-neck.svg"),
    "card": ("card", "song.txt", "-o", "song-card.pdf"),
    "pdf": ("sheet", "song.txt", "-o", "song.pdf"),
    "svg": ("sheet", "song.txt", "-o", "song.svg"),
    "png": ("sheet", "song.txt", "-o", "song.png"),
    "musicxml": ("sheet", "song.txt", "-o", "song.musicxml"),
    "mxl": ("sheet", "song.txt", "-o", "song.mxl"),
    "html": ("page", "song.txt", "-o", "song.html", *FONT),
}
"""Every kind of output, and the command that makes it."""
JOBS = ("render", "song.txt", "b.txt", "c.txt", "-o", "./", "--as", "mid,mp3", "--jobs", "2", *FONT)
INPUTS = frozenset({"song.txt", "b.txt", "c.txt", "click.sf2"})
EXIT_CODES = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129}
"""What a shell makes of a process that was stopped: 128 and the signal's number."""


def fill(folder: Path, command: tuple[str, ...]) -> None:
    """Put a command's inputs into an empty folder, and old files where its outputs go."""
    for name in ("song.txt", "b.txt", "c.txt"):
        (folder / name).write_text(CHART, encoding="utf-8")
    (folder / "click.sf2").write_bytes(click_font())
    for name in outputs(command):
        (folder / name).write_bytes(OLD)


def outputs(command: tuple[str, ...]) -> list[str]:
    """Return the files that a command writes."""
    if command != JOBS:
        return [command[command.index("-o") + 1]]
    return [f"{stem}.{kind}" for stem in ("song", "b", "c") for kind in ("mid", "mp3")]


@dataclass(frozen=True, kw_only=True)
class Kill:
    """A command that a signal hit, and what was left."""

    command: tuple[str, ...]
    signal: signal.Signals
    after_sec: float
    code: int
    told: str
    files: dict[str, bytes]

    def faults(self) -> Iterator[str]:
        """Yield what is wrong with it."""
        from tests.whole_files import is_whole

        for name in outputs(self.command):
            data = self.files.get(name)
            if data is None:
                yield f"{name} is gone"
            elif data != OLD and not is_whole(name, data):
                yield f"{name} is damaged"
        more = self.files.keys() - INPUTS - set(outputs(self.command))
        if more and (self.signal is not signal.SIGKILL or any(".groove-" not in n for n in more)):
            yield f"{sorted(more)} is left"
        if "Traceback" in self.told or "Warning" in self.told:
            yield self.told
        if self.signal in EXIT_CODES and self.code not in (0, EXIT_CODES[self.signal]):
            yield f"exit {self.code}: {self.told}"
        if self.code == EXIT_CODES.get(self.signal) and self.told.count("stopped") != 1:
            yield f"said {self.told!r}"


STARTER = """
import os, sys
from groove.cli.entry import entry, stop_cleanly
stop_cleanly()
os.write(int(sys.argv.pop(1)), b"!")
entry()
"""
"""The command, which says when Python itself has started: before that it cannot do anything."""


def killed(folder: Path, command: tuple[str, ...], how: signal.Signals, after_sec: float) -> Kill:
    """Run a command in a folder of its own, send it a signal after a time, and see what is left."""
    fill(folder, command)
    ready, tell = os.pipe()
    process = subprocess.Popen(
        [sys.executable, "-c", STARTER, str(tell), *command],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        pass_fds=(tell,),
        text=True,
    )
    os.close(tell)
    os.read(ready, 1)
    os.close(ready)
    try:
        told = process.communicate(timeout=after_sec)[1]
    except subprocess.TimeoutExpired:
        process.send_signal(how)
        told = process.communicate(timeout=60)[1]  # workers too hold standard error
    return Kill(
        command=command,
        signal=how,
        after_sec=after_sec,
        code=process.returncode,
        told=told,
        files={path.name: path.read_bytes() for path in folder.iterdir()},
    )


def random_kills(
    folder: Path,
    count: int,
    seed: int,
    longest_sec: float,
    commands: Sequence[tuple[str, ...]] = (*KINDS.values(), JOBS, JOBS),
) -> Iterator[Kill]:
    """Yield commands in turn, of every kind where none are named, killed at random moments."""
    rng = random.Random(seed)
    signals = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL)
    for number in range(count):
        own = folder / f"{number}"
        own.mkdir()
        command = commands[number % len(commands)]
        share = 2.0 if command == JOBS else 1.0
        yield killed(own, command, rng.choice(signals), rng.random() * longest_sec * share)
