"""Whatever stops a command, each file is the old or the new one, whole, and nothing else is left.

The judges are the readers of ``tests.whole_files``; exit codes are a shell's, 128 and the signal's
number (IEEE Std 1003.1, Shell Command Language, 2.8.2).
"""

import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from groove.cli.interrupts import STOPPED_LINE, stops_held
from groove.io.files import write_whole
from tests.conftest import ROOT
from tests.kills import EXIT_CODES, JOBS, KINDS, OLD, fill, killed, random_kills
from tests.stop_points import POINTS
from tests.whole_files import is_whole


def test_a_stop_at_any_point_of_writing_leaves_the_old_file_or_the_new(tmp_path: Path) -> None:
    """All kinds are written by one function, so this is the one that is made in no time.

    With libraries of sound, engraver, typesetter and pages loaded, commands are killed at random
    moments; what is left of svg and html is opened in a browser by ``tests.page.test_page_kills``.
    """
    done = subprocess.run(
        [sys.executable, "-m", "tests.stop_points", "mid"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"},
        capture_output=True,
        text=True,
        check=True,
    )
    trials = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(trials) == len(POINTS) * 3
    old = hashlib.sha256(OLD).hexdigest()
    for trial in trials:
        is_killed = trial["signal"] == signal.SIGKILL
        assert trial["code"] == (-9 if is_killed else EXIT_CODES[trial["signal"]]), trial
        assert trial["told"].count("\n") == (0 if is_killed else 1), trial
        assert trial["swept"] == [], trial
        assert is_killed or trial["left"] == [], trial
        assert (trial["file"] == old) == (trial["point"] != "after rename"), trial
    left = [trial for trial in trials if trial["left"]]
    # SIGKILL leaves it from the open to the rename.
    assert len(left) == len(set(POINTS) - {"before open", "after rename"})
    new = next(trial["file"] for trial in trials if trial["file"] != old)
    (file,) = (tmp_path / "seen").glob(f"{new}.*")
    assert is_whole(file.name, file.read_bytes())
    assert not is_whole(file.name, file.read_bytes()[: file.stat().st_size // 2])


def test_commands_killed_at_random_moments(tmp_path: Path) -> None:
    """As ``python -m tests.benchmarks.kills`` kills four hundred, of every kind.

    Here are those that have libraries of their own at work (synthesizer, coder, typesetter,
    engraver, a thread beside it), and processes of their own.
    """
    commands = [*(KINDS[kind] for kind in ("mp3", "card", "png", "html")), JOBS, JOBS]
    kills = list(random_kills(tmp_path, 6, seed=11, longest_sec=0.5, commands=commands))
    assert [fault for kill in kills for fault in kill.faults()] == []
    assert len(kills) == 6
    assert len([kill for kill in kills if kill.code != 0]) >= 2


def test_a_command_is_stopped_before_it_has_loaded_anything(tmp_path: Path) -> None:
    for number, how in enumerate(EXIT_CODES):
        own = tmp_path / f"{number}"
        own.mkdir()
        kill = killed(own, KINDS["mid"], how, 0)
        assert list(kill.faults()) == []
        assert kill.code == EXIT_CODES[how]
    assert number == 2


def test_a_signal_that_is_ignored_stays_so(tmp_path: Path) -> None:
    """As under ``nohup`` (IEEE Std 1003.1, nohup)."""
    fill(tmp_path, KINDS["mid"])
    code = (
        "import os, signal, sys; signal.signal(signal.SIGHUP, signal.SIG_IGN)\n"
        "from groove.cli.entry import entry, stop_cleanly; stop_cleanly()\n"
        "os.kill(os.getpid(), signal.SIGHUP); entry()"
    )
    command = [sys.executable, "-c", code, *KINDS["mid"]]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, check=False)
    assert done.returncode == 0
    assert is_whole("song.mid", (tmp_path / "song.mid").read_bytes())


def test_a_worker_that_is_killed_costs_its_chart_alone() -> None:
    code = (
        "from groove.cli.workers import Crew\n"
        "from tests.killed_worker import square, lost\n"
        "print(*Crew(square, 2, lost=lost).results(list(range(6))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["0", "1", "4", "lost(3,-9)", "16", "25"]
    assert done.stderr == ""


@pytest.mark.parametrize(("how", "to_all"), [(signal.SIGTERM, False), (signal.SIGINT, True)])
def test_workers_that_are_writing_leave_nothing_and_say_nothing(
    how: signal.Signals, to_all: bool, tmp_path: Path
) -> None:
    """Ctrl-C goes to every process of a terminal's foreground group (termios(4))."""
    names = [str(tmp_path / name) for name in ("a.mid", "b.mid")]
    code = (
        "import sys\n"
        "from groove.cli.entry import stop_cleanly\n"
        "from groove.cli.workers import Crew\n"
        "from tests.killed_worker import never_written, lost\n"
        "stop_cleanly()\n"
        "print(*Crew(never_written, 2, lost=lost).results(sys.argv[1:]))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, *names],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while len(list(tmp_path.glob(".groove-*"))) < 2:
        assert process.poll() is None
        time.sleep(0.02)
    os.killpg(process.pid, how) if to_all else os.kill(process.pid, how)
    out, told = process.communicate(timeout=60)
    assert process.returncode == EXIT_CODES[how]
    assert (out, told) == ("", STOPPED_LINE.decode())
    assert list(tmp_path.iterdir()) == []


def test_what_a_live_process_is_writing_is_not_taken_for_left_behind(tmp_path: Path) -> None:
    """A lock of flock ends with its process (flock(2))."""
    live = tmp_path / ".groove-0123456789abcdef.tmp"
    code = (
        "import fcntl, sys; file = open(sys.argv[1], 'wb'); fcntl.flock(file, fcntl.LOCK_EX)\n"
        "print('locked', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(live)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        write(tmp_path / "song.mid")
        assert live.exists()
    left_alone = {".groove-0123456789abcdeg.tmp", ".groove-0123.tmp", "groove.tmp", ".groove"}
    for name in left_alone:
        (tmp_path / name).write_bytes(b"")
    (tmp_path / ".groove-fedcba9876543210.tmp").symlink_to(tmp_path / "song.mid")
    write(tmp_path / "other.mid")
    assert {path.name for path in tmp_path.iterdir()} == {
        "song.mid",
        "other.mid",
        ".groove-fedcba9876543210.tmp",
        *left_alone,
    }


def write(path: Path) -> None:
    """Write a file in a process of its own."""
    code = (
        "import sys; from pathlib import Path; from groove.io.files import write_whole\n"
        "write_whole(Path(sys.argv[1]), b'whole')"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=True)


def test_a_file_that_was_taken_for_left_behind_is_written_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process may look between the making of a file and its lock."""
    from groove.io import files

    lock = files._lock
    taken: list[Path] = []

    def late(descriptor: int) -> None:
        if not taken:
            taken.extend(tmp_path.glob(".groove-*"))
            taken[0].unlink()
        lock(descriptor)

    monkeypatch.setattr(files, "_lock", late)
    write_whole(tmp_path / "song.mid", b"whole")
    assert len(taken) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["song.mid"]
    assert (tmp_path / "song.mid").read_bytes() == b"whole"


def test_the_last_line_is_said_while_a_library_is_hushed() -> None:
    """A library in C is hushed by taking standard error from it (dup2(2))."""
    code = (
        "import os, signal; from groove.cli.interrupts import keep_last_line, stop_cleanly;"
        "stop_cleanly(); keep_last_line();"
        "os.dup2(os.open(os.devnull, os.O_WRONLY), 2); os.kill(os.getpid(), signal.SIGTERM)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert (done.returncode, done.stderr.count(b"stopped")) == (143, 1)


def test_a_stop_waits_while_a_worker_is_made() -> None:
    """sigprocmask(2): what is blocked is delivered where it is let through again."""
    came: list[int] = []
    before = signal.signal(signal.SIGTERM, lambda number, _: came.append(number))
    try:
        with stops_held():
            signal.pthread_kill(threading.get_ident(), signal.SIGTERM)
            assert came == []
        assert came == [signal.SIGTERM]
    finally:
        signal.signal(signal.SIGTERM, before)
