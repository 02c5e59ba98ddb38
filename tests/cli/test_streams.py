"""Input, output and folders that refuse: one line, a code, nothing half-written.

``/dev/full`` refuses every byte (full(4)); RLIMIT_FSIZE bounds every file (getrlimit(2)).
"""

import json
import os
import resource
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from groove.chart.parse import parse_chart
from groove.text.plain import PLAIN_SIGNS, plain_spelling

CHART = (
    "title: Høst – “Größe”\ntempo: 90\nkey: Bb\nfeel: sixteenths\n"
    "verse:\n| Bb△7 | F#ø7 | B°7 | Ebm7 |\n| A♭7 | C♯m | Gø | G♭6/9 |\n"
)
GROOVE = [sys.executable, "-m", "groove"]


def run(
    folder: Path, *arguments: str, environment: dict[str, str] | None = None, shell: str = ""
) -> "subprocess.CompletedProcess[bytes]":
    """Run a command as a process of its own, with what a shell would add to it."""
    (folder / "song.txt").write_text(CHART, encoding="utf-8")
    words = ["sh", "-c", f'exec "$@" {shell}', "sh", *GROOVE, *arguments]
    kept = {**os.environ, "XDG_CONFIG_HOME": str(folder), **(environment or {})}
    return subprocess.run(words, cwd=folder, env=kept, capture_output=True, check=False)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_what_an_encoding_lacks_is_spelled_plainly(tmp_path: Path, encoding: str) -> None:
    """The chart that is printed in ASCII is the same song: the spellings are the trade's."""
    done = run(tmp_path, "show", "song.txt", "--chart", environment={"PYTHONIOENCODING": encoding})
    assert done.returncode == 0
    assert done.stderr == b""
    printed, whole = (
        [
            (onset.chord.root, onset.chord.degrees)
            for bar in parse_chart(text).sections[0].bars
            for onset in bar.chords
            if onset.chord is not None
        ]
        for text in (done.stdout.decode(encoding), CHART)
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
def test_no_command_ends_over_a_sign(tmp_path: Path, command: tuple[str, ...]) -> None:
    done = run(tmp_path, *command, environment={"PYTHONIOENCODING": "ascii"})
    told = (done.stdout + done.stderr).decode("ascii")
    assert done.returncode == (2 if "høst.txt" in command else 0)
    assert "Traceback" not in told
    assert "?" not in told.replace("was there enough memory?", "")
    assert "Host" in told or command[0] in ("feels", "render", "show")


def test_data_is_exact_in_any_encoding(tmp_path: Path) -> None:
    """RFC 8259, section 7: any character may be escaped."""
    done = run(tmp_path, "show", "song.txt", "--json", environment={"PYTHONIOENCODING": "ascii"})
    assert json.loads(done.stdout.decode("ascii"))["title"] == "Høst – “Größe”"


def test_another_way_that_is_asked_for_is_kept(tmp_path: Path) -> None:
    done = run(tmp_path, "card", "song.txt", environment={"PYTHONIOENCODING": "ascii:ignore"})
    assert done.stdout.startswith(b"Hst")


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


@pytest.mark.parametrize(
    ("arguments", "shell", "found"),
    [
        (("show", "song.txt"), ">&-", "cannot write to standard output: it is closed"),
        (("show", "song.txt", "--json"), ">&-", "cannot write to standard output: it is closed"),
        (("show", "song.txt"), ">/dev/full", "standard output: No space left on device"),
        (("tab", "song.txt", "--json"), ">/dev/full", "standard output: No space left on device"),
        (("--help",), ">/dev/full", "standard output: No space left on device"),
        (("--version",), ">&-", "cannot write to standard output: it is closed"),
    ],
)
def test_an_output_that_takes_nothing_is_one_line(
    tmp_path: Path, arguments: tuple[str, ...], shell: str, found: str
) -> None:
    done = run(tmp_path, *arguments, shell=shell)
    assert done.returncode == 1
    assert found in done.stderr.decode()
    assert done.stderr.count(b"\n") == 1


def test_a_closed_input_is_told(tmp_path: Path) -> None:
    done = run(tmp_path, "show", "-", shell="<&-")
    assert done.returncode == 2
    assert done.stderr.startswith(b"cannot read -: standard input is closed\n")


@pytest.mark.parametrize("shell", ["2>&-", "2>/dev/full"])
def test_a_file_is_written_where_nobody_can_be_told(tmp_path: Path, shell: str) -> None:
    """A closed standard error must not be the number of the file that is written."""
    done = run(tmp_path, "render", "song.txt", "-o", "song.mid", shell=shell)
    assert done.returncode == 0
    data = (tmp_path / "song.mid").read_bytes()
    assert data.startswith(b"MThd")
    assert b"wrote" not in data


def test_who_has_read_enough_is_not_told_more(tmp_path: Path) -> None:
    done = run(tmp_path, "tab", "song.txt", shell="| head -1")
    assert done.stdout.decode().startswith("Høst")
    assert done.stderr == b""


def limited(size_bytes: int) -> None:
    """Let this process write no file that is larger."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, size_bytes))


@pytest.mark.parametrize(
    ("arguments", "code", "found"),
    [
        (("sheet", "song.txt", "-o", "song.pdf"), 1, "the folder for temporary files"),
        (("render", "song.txt", "-o", "song.mid"), 1, "cannot write song.mid: File too large"),
        (("tab", "song.txt", "-o", "tab.txt"), 1, "cannot write tab.txt: File too large"),
    ],
)
def test_no_room_is_told_and_nothing_is_left(
    tmp_path: Path, arguments: tuple[str, ...], code: int, found: str
) -> None:
    (tmp_path / "song.txt").write_text(CHART, encoding="utf-8")
    (tmp_path / "scratch").mkdir()
    (tmp_path / arguments[-1]).write_bytes(b"old")
    done = subprocess.run(
        [*GROOVE, *arguments],
        cwd=tmp_path,
        env={**os.environ, "TMPDIR": str(tmp_path / "scratch"), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        preexec_fn=partial(limited, 200),
        check=False,
    )
    assert done.returncode == code
    assert found in done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / arguments[-1]).read_bytes() == b"old"
    assert {path.name for path in tmp_path.iterdir()} == {"song.txt", "scratch", arguments[-1]}
    assert list((tmp_path / "scratch").iterdir()) == []
