"""Input, output and folders that refuse: one line, a code, nothing half-written.

``/dev/full`` refuses every byte (full(4)); RLIMIT_FSIZE bounds every file (getrlimit(2)).  What is
about how a process starts and ends runs in one; the rest runs here, with the streams that Python
makes for these.
"""

import io
import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from groove.chart.parse import parse_chart
from groove.text.plain import PLAIN_SIGNS, plain_spelling
from tests.cli.command import Command, Said

CHART = (
    "title: Høst – “Größe”\ntempo: 90\nkey: Bb\nfeel: sixteenths\n"
    "verse:\n| Bb△7 | F#ø7 | B°7 | Ebm7 |\n| A♭7 | C♯m | Gø | G♭6/9 |\n"
)
GROOVE = [sys.executable, "-m", "groove"]
IN_ASCII = {"PYTHONIOENCODING": "ascii"}


def run(
    folder: Path, *arguments: str, environment: dict[str, str] | None = None, shell: str = ""
) -> "subprocess.CompletedProcess[bytes]":
    """Run a command as a process of its own, with what a shell would add to it."""
    (folder / "song.txt").write_text(CHART, encoding="utf-8")
    words = ["sh", "-c", f'exec "$@" {shell}', "sh", *GROOVE, *arguments]
    kept = {**os.environ, "XDG_CONFIG_HOME": str(folder), **(environment or {})}
    return subprocess.run(words, cwd=folder, env=kept, capture_output=True, check=False)


def stream(encoding: str, errors: str) -> io.TextIOWrapper:
    """Return a stream as Python makes standard output where the environment asks for it."""
    return io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors=errors)


def written(stream: io.TextIOWrapper) -> bytes:
    """Return what a stream was given."""
    stream.flush()
    assert isinstance(stream.buffer, io.BytesIO)
    return stream.buffer.getvalue()


def run_here(groove: Command, *arguments: str, encoding: str, errors: str = "strict") -> Said:
    """Run a command in this process with streams of an encoding, and decode what it said.

    Standard error spells what an encoding lacks with backslashes (the sys module's documentation).
    """
    groove.write("song.txt", CHART)
    out, told = stream(encoding, errors), stream(encoding, "backslashreplace")
    groove.monkeypatch.setattr(sys, "stdout", out)
    groove.monkeypatch.setattr(sys, "stderr", told)
    code = groove(*arguments).code
    return Said(code, written(out).decode(encoding), written(told).decode(encoding))


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_what_an_encoding_lacks_is_spelled_plainly(groove: Command, encoding: str) -> None:
    """The chart that is printed in ASCII is the same song: the spellings are the trade's."""
    said = run_here(groove, "show", "song.txt", "--chart", encoding=encoding)
    assert (said.code, said.err) == (0, "")
    if encoding == "ascii":
        done = run(groove.folder, "show", "song.txt", "--chart", environment=IN_ASCII)
        assert (done.returncode, done.stdout.decode("ascii"), done.stderr) == (0, said.out, b"")
    printed, whole = (
        [
            (onset.chord.root, onset.chord.degrees)
            for bar in parse_chart(text).sections[0].bars
            for onset in bar.chords
            if onset.chord is not None
        ]
        for text in (said.out, CHART)
    )
    assert len(printed) == 8
    assert printed == whole


@pytest.mark.parametrize(
    "command",
    [
        ("show", "song.txt", "--harmony", "--notes", "--numerals"),
        ("tab", "song.txt"),
        ("neck", "song.txt"),
        ("card", "song.txt"),
        ("feels",),
        ("render", "song.txt"),
        ("render", "--help"),
        ("show", "høst.txt"),
    ],
)
def test_no_command_ends_over_a_sign(groove: Command, command: tuple[str, ...]) -> None:
    said = run_here(groove, *command, encoding="ascii")
    told = said.out + said.err
    assert said.code == (2 if "høst.txt" in command else 0)
    assert "Traceback" not in told
    assert "?" not in told.replace("was there enough memory?", "")
    assert "Host" in told or command[0] in ("feels", "render", "show")


def test_data_is_exact_in_any_encoding(groove: Command) -> None:
    """RFC 8259, section 7: any character may be escaped."""
    said = run_here(groove, "show", "song.txt", "--json", encoding="ascii")
    assert json.loads(said.out)["title"] == "Høst – “Größe”"


def test_another_way_that_is_asked_for_is_kept(groove: Command) -> None:
    """As ``PYTHONIOENCODING=ascii:ignore`` asks for it."""
    said = run_here(groove, "card", "song.txt", encoding="ascii", errors="ignore")
    assert said.out.startswith("Hst")


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("B♭ F♯ A𝄫 F𝄪", "Bb F# Abb Fx"),
        ("Bø7 Bø9 viiø B°7", "Bm7b5 Bm7b5(9) viim7b5 Bo7"),
        ("C△7 C△ ×2 −3 dB", "Cmaj7 Cmaj7 x2 -3 dB"),
        ("♩ = 84, ♩. = 60", "quarter = 84, dotted quarter = 60"),
        ("Søren – Größe … naïve Ångström Œuvre", "Soren - Grosse ... naive Angstrom OEuvre"),
        ("日本", "??"),
    ],
)
def test_plain_spellings(text: str, plain: str) -> None:
    """Common practice, no source; accents fall away as in Unicode's NFKD (UAX 15)."""
    spelled, at = "", 0
    while at < len(text):
        if text[at].isascii():
            spelled, at = spelled + text[at], at + 1
        else:
            more, at = plain_spelling(text, at)
            spelled += more
    assert spelled == plain
    assert all(value.isascii() for value in PLAIN_SIGNS.values())


CLOSED = "cannot write to standard output: it is closed"
FULL = "standard output: No space left on device"


@pytest.mark.parametrize(
    ("arguments", "shell", "found"),
    [
        (("show", "song.txt"), ">&-", CLOSED),
        (("show", "song.txt", "--json"), ">/dev/full", FULL),
    ],
)
def test_an_output_that_takes_nothing_is_one_line(
    tmp_path: Path, arguments: tuple[str, ...], shell: str, found: str
) -> None:
    done = run(tmp_path, *arguments, shell=shell)
    assert done.returncode == 1
    assert found in done.stderr.decode()
    assert done.stderr.count(b"\n") == 1


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (("show", "song.txt", "--json"), CLOSED),
        (("--version",), CLOSED),
        (("show", "song.txt"), FULL),
        (("--help",), FULL),
    ],
)
def test_whatever_is_printed_to_it(groove: Command, arguments: tuple[str, ...], found: str) -> None:
    """A closed one has a stand-in, ``groove.io.streams``; Python tries to write what is left."""
    groove.write("song.txt", CHART)
    name, how = (os.devnull, os.O_RDONLY) if found == CLOSED else ("/dev/full", os.O_WRONLY)
    with os.fdopen(os.open(name, how), "w") as refusing:
        groove.monkeypatch.setattr(sys, "stdout", refusing)
        said = groove(*arguments)
        refusing.flush()
    assert said.code == 1
    assert found in said.err
    assert said.err.count("\n") == 1


def test_a_closed_input_is_told(tmp_path: Path) -> None:
    done = run(tmp_path, "show", "-", shell="<&-")
    assert done.returncode == 2
    assert done.stderr.startswith(b"cannot read -: standard input is closed\n")


def test_a_file_is_written_where_nobody_can_be_told(groove: Command) -> None:
    """A closed standard error must not be the number of the file that is written."""
    done = run(groove.folder, "render", "song.txt", "-o", "song.mid", shell="2>&-")
    assert done.returncode == 0
    data = (groove.folder / "song.mid").read_bytes()
    assert data.startswith(b"MThd")
    assert b"wrote" not in data
    with Path("/dev/full").open("w") as full:
        groove.monkeypatch.setattr(sys, "stderr", full)
        assert groove("render", "song.txt", "-o", "again.mid").code == 0
        full.flush()
    assert (groove.folder / "again.mid").read_bytes() == data


def test_who_has_read_enough_is_not_told_more(tmp_path: Path) -> None:
    """``true`` (POSIX) has ended before anything is said: a pipe without a reader (pipe(7))."""
    done = run(tmp_path, "show", "song.txt", shell="| true")
    assert (done.stdout, done.stderr) == (b"", b"")


@contextmanager
def limited(size_bytes: int) -> Iterator[None]:
    """Let this process write no file that is larger."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize(
    ("arguments", "code", "found"),
    [
        (("sheet", "song.txt", "-o", "song.pdf"), 1, "the folder for temporary files"),
        (("render", "song.txt", "-o", "song.mid"), 1, "cannot write song.mid: File too large"),
        (("tab", "song.txt", "-o", "tab.txt"), 1, "cannot write tab.txt: File too large"),
    ],
)
def test_no_room_is_told_and_nothing_is_left(
    groove: Command, arguments: tuple[str, ...], code: int, found: str
) -> None:
    groove.write("song.txt", CHART)
    (groove.folder / "scratch").mkdir()
    (groove.folder / arguments[-1]).write_bytes(b"old")
    groove.monkeypatch.setattr(tempfile, "tempdir", str(groove.folder / "scratch"))
    groove.monkeypatch.setattr(sys, "dont_write_bytecode", True)
    with limited(200):
        said = groove(*arguments)
    assert said.code == code
    assert found in said.err
    assert "Traceback" not in said.err
    assert (groove.folder / arguments[-1]).read_bytes() == b"old"
    assert {path.name for path in groove.folder.iterdir()} == {"song.txt", "scratch", arguments[-1]}
    assert list((groove.folder / "scratch").iterdir()) == []
