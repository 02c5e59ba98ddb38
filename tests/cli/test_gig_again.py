"""``groove gig`` again in the same folder: what is made anew, what stays, and whatever stops it."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from msgspec.structs import replace

from groove.cli.console import CAUTION
from groove.gig.running_order import SongRecord
from groove.io.gig_folder import GigFolder
from tests.cli.command import Command
from tests.cli.gig_folders import FAST, FERN, PLUM, SET, Links, contents, written_set
from tests.conftest import ROOT


@pytest.fixture
def with_set(groove: Command) -> Command:
    return written_set(groove)


def test_only_what_changed_is_made_again(with_set: Command) -> None:
    with_set("gig", "friday.txt", *FAST)
    folder = with_set.folder / "friday"
    first = contents(folder)
    old = {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}
    said = with_set("gig", "friday.txt", *FAST)
    assert said.err.startswith("0 made, 3 as they were, in friday")
    assert {path: path.stat().st_mtime_ns for path in old} == old and contents(folder) == first
    # A chart that changed, and a file that was lost, are made again; nothing else.
    with_set.write("fern.txt", FERN.replace("| E7 |", "| D |"))
    (folder / "plum-2-card.pdf").unlink()
    said = with_set("gig", "friday.txt", *FAST)
    assert said.err.startswith("2 made, 1 as they were, in friday")
    after = contents(folder)
    changed = {name for name in first if after[name] != first[name]}
    assert changed >= {"fern.mid", "fern-card.pdf", "gig-book.pdf"}
    assert not any(name.startswith("plum") for name in changed)
    # What was written over by somebody is ours again.
    (folder / "plum.mid").write_bytes(b"mine")
    with_set("gig", "friday.txt", *FAST)
    assert contents(folder)["plum.mid"] == first["plum.mid"]


def test_a_file_that_a_song_of_the_set_has_too_stays(tmp_path: Path) -> None:
    folder = GigFolder(tmp_path)
    folder.prepare()
    record = SongRecord(
        fingerprint="", title="", key="", tempo="", sec=1, set_list="a.txt",
        files={name: folder.write(name, b"x") for name in ("both.mid", "one.mid")},
    )  # fmt: skip
    folder.keep("gone", record)
    folder.keep("here", replace(record, files={"both.mid": record.files["both.mid"]}))
    assert folder.drop_others(["here"], "a.txt").removed == ("one.mid",)
    assert (tmp_path / "both.mid").exists() and not (tmp_path / "one.mid").exists()


def test_a_song_that_left_the_set_leaves_the_folder(with_set: Command) -> None:
    """What was written for it goes; what somebody has changed since stays, and is told."""
    with_set("gig", "friday.txt", *FAST)
    folder = with_set.folder / "friday"
    (folder / "fern.mid").write_bytes(b"mine")
    (folder / "own.txt").write_text("mine")
    with_set.write("friday.txt", "plum\n")
    said = with_set("gig", "friday.txt", *FAST, "--json")
    assert (
        "  removed, no longer in the set: fern-without-bass.mid, fern-card.pdf, plum-2" in said.err
    )
    assert "left there, though no longer in the set, for they were changed: fern.mid\n" in said.err
    removed = {f"friday/{stem}" for stem in ("fern-without-bass.mid", "fern-card.pdf")}
    removed |= {f"friday/plum-2{kind}" for kind in (".mid", "-without-bass.mid", "-card.pdf")}
    assert set(said.json[0]["removed"]) == removed
    left = contents(folder)
    assert (left.pop("fern.mid"), left.pop("own.txt")) == (b"mine", b"mine")
    # But for those two it is the folder of the shorter set, made anew.
    with_set("gig", "friday.txt", *FAST, "-o", "clean/")
    assert left == contents(with_set.folder / "clean")
    again = with_set("gig", "friday.txt", *FAST)
    assert "no longer in the set" not in again.err


def test_another_set_list_in_the_same_folder_takes_nothing_away(with_set: Command) -> None:
    """The list is known by its name; what both have belongs to the one that asked last."""
    with_set("gig", "friday.txt", *FAST)
    with_set.write("sunday.txt", "fern.txt, tempo 90\n")
    said = with_set("gig", "sunday.txt", *FAST, "-o", "friday/")
    assert said.err.startswith("0 made, 1 as they were") and "removed" not in said.err
    with_set.write("friday.txt", "plum\n")
    said = with_set("gig", "friday.txt", *FAST)
    assert "removed, no longer in the set: plum-2.mid, " in said.err and "fern" not in said.err
    assert (with_set.folder / "friday" / "fern.mid").exists()


def test_a_broken_chart_and_a_missing_one_stop_only_themselves(with_set: Command) -> None:
    with_set.write("fern.txt", FERN.replace("E7", "Zebra"))
    with_set.write("friday.txt", SET + "gone.txt\n")
    said = with_set("gig", "friday.txt", "--as", "mid", "--jobs", "1")
    assert said.code == 1
    assert " 2  fern.txt   not made\n" in said.out and " 5  gone.txt   not made\n" in said.out
    assert said.err.startswith("2 made, 0 as they were")
    assert "fern.txt:6:7: cannot read the chord 'Zebra'" in said.err
    assert "cannot read gone.txt: No such file" in said.err
    names = set(contents(with_set.folder / "friday"))
    assert {"plum.mid", "plum-2.mid", "index.html"} < names and "fern.mid" not in names
    index = Links()
    index.feed((with_set.folder / "friday/index.html").read_text("utf-8"))
    assert "fern.txt: not made. fern.txt:6:7: cannot read the chord 'Zebra'" in index.texts
    assert any("cannot read gone.txt" in text for text in index.texts)
    # Three songs of 16 s are there, and the two that are not count for nothing.
    assert "5 songs (2 not made), 0:48, and 20:00 of breaks" in index.texts
    assert said.out.startswith("Friday & more: 5 songs (2 not made), 0:48, and")


class _KilledError(BaseException):
    """Ends a run on the spot: nobody catches it."""


def test_the_caution_comes_where_a_song_was_made(with_set: Command) -> None:
    gig = ("gig", "friday.txt", "--as", "mid", "--jobs", "1")
    with_set.write("friday.txt", "gone\nplum\n")
    assert [CAUTION in with_set(*gig).err for _ in range(2)] == [True, True]
    with_set.write("friday.txt", "gone\n")
    said = with_set(*gig)
    assert said.code != 0 and CAUTION not in said.err


def test_killed_after_any_file_and_run_again_it_equals_one_clean_run(
    with_set: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each file appears whole or not at all, so a run can only end between two of them."""
    with_set.write("friday.txt", "plum\nfern\n")
    with_set("gig", "friday.txt", *FAST, "-o", "clean/")
    clean = contents(with_set.folder / "clean")
    whole = GigFolder.write
    left = 0

    def counted(self: GigFolder, name: str, data: bytes) -> str:
        nonlocal left
        if not left:
            raise _KilledError
        left -= 1
        return whole(self, name, data)

    # Two songs of three files and a record, the book and its record, the index: before a record,
    # between two songs, and before each of the last three.
    ends = (3, 4, 8, 9, 10)
    for after in ends:
        folder = f"killed-{after}"
        left = after
        with monkeypatch.context() as patched:
            patched.setattr(GigFolder, "write", counted)
            with pytest.raises(_KilledError):
                with_set("gig", "friday.txt", *FAST, "-o", f"{folder}/")
        assert len(contents(with_set.folder / folder)) == after
        assert with_set("gig", "friday.txt", *FAST, "-o", f"{folder}/").code == 0
        assert contents(with_set.folder / folder) == clean
    assert len(clean) == ends[-1] + 1


def test_two_processes_at_once_of_which_one_is_killed(with_set: Command) -> None:
    """It is killed as soon as something is written, the other goes on to the end.

    A chart is broken, which the index tells as where one process makes all.
    """
    with_set.write("friday.txt", SET + "broken\n")
    with_set.write("broken.txt", "verse:\n| Zebra |\n")
    gig = ("gig", "friday.txt", "--as", "mid")
    with_set(*gig, "--jobs", "1", "-o", "clean/")
    clean = contents(with_set.folder / "clean")
    made = with_set.folder / "out"

    def start(jobs: str) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(
            [sys.executable, "-m", "groove", *gig, "-o", "out/", "--jobs", jobs],
            cwd=with_set.folder,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stderr=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )

    killed, whole = start("1"), start("2")
    while killed.poll() is None and not list(made.glob("*.mid")):
        time.sleep(0.01)
    killed.send_signal(signal.SIGKILL)
    killed.wait()
    assert whole.wait(timeout=120) == 1
    # What the killed one was writing just then lies there until somebody writes again.
    assert clean.items() <= contents(made).items()
    assert with_set(*gig, "--jobs", "1", "-o", "out/").code == 1
    assert contents(made) == clean


@pytest.mark.parametrize("at_once", ["1", "2"])
def test_a_folder_that_takes_nothing_is_one_error(with_set: Command, at_once: str) -> None:
    """A file stands in the folder's place: no run gets past it, and it stays."""
    with_set.write("out", "mine")
    said = with_set("gig", "friday.txt", "--as", "mid", "--jobs", at_once, "-o", "out/deeper/")
    assert (said.code, said.out) == (1, "")
    told = "cannot make the folder out/deeper: Not a directory\n  write somewhere else\n"
    assert said.err == told
    assert (with_set.folder / "out").read_text() == "mine"


def test_a_full_disk_is_one_error_and_leaves_the_old_files(
    with_set: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_set("gig", "friday.txt", *FAST)
    folder = with_set.folder / "friday"
    old = contents(folder)
    for name, text in (("plum.txt", PLUM), ("fern.txt", FERN)):
        with_set.write(name, text.replace("| D |", "| Bm |").replace("| A |", "| F#m |"))

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("groove.io.files.os.fsync", full)
        said = with_set("gig", "friday.txt", *FAST)
    assert (said.code, said.out) == (1, "")
    assert said.err.count("No space left on device") == 1 and said.err.count("\n") == 2
    assert contents(folder) == old
