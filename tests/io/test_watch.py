"""Which files have changed, in every way that editors save; told within two seconds.

The ways to save are those of POSIX's own calls (IEEE Std 1003.1: open with O_TRUNC, rename,
unlink); the bound is the project's promise.
"""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import Empty, Queue

import pytest

from groove.errors import OutputError
from groove.io.watch import FileWatch

HEARD_SEC = 2.0
OFTEN_MS = 100
"""How often the files are looked at, where that is not what a test is about."""
STILL_SEC = 0.5
"""Longer than the longest time between two looks."""

Changes = Queue[frozenset[Path]]


@pytest.fixture(autouse=True)
def looks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("groove.io.watch.LOOK_MS", OFTEN_MS)


@contextmanager
def following(*files: Path) -> Iterator[Changes]:
    """Follow files in a thread of its own."""
    found: Changes = Queue()
    stop = threading.Event()
    watch = FileWatch(lambda: files)

    def run() -> None:
        for changed in watch.changes(stop):
            found.put(changed)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield found
    finally:
        stop.set()
        thread.join()


def in_place(file: Path) -> None:
    file.write_text("in place", encoding="utf-8")


def renamed_over(file: Path) -> None:
    other = file.with_name("song.txt.new")
    other.write_text("renamed over", encoding="utf-8")
    other.replace(file)


def made_anew(file: Path) -> None:
    file.unlink()
    file.write_text("made anew", encoding="utf-8")


def with_a_copy_kept(file: Path) -> None:
    file.rename(file.with_name("song.txt~"))
    file.write_text("a copy is kept", encoding="utf-8")


def older_moved_in(file: Path) -> None:
    older = file.with_name("older.txt")
    older.write_text("0", encoding="utf-8")
    os.utime(older, (1, 1))
    older.replace(file)


def folder_made_anew(file: Path) -> None:
    file.parent.rename(file.parent.with_name("put away"))
    file.parent.mkdir()
    file.write_text("in another folder", encoding="utf-8")


WAYS = [in_place, renamed_over, made_anew, with_a_copy_kept, older_moved_in, folder_made_anew]


@pytest.mark.parametrize("save", WAYS)
def test_every_way_to_save_is_heard_and_the_next_one_too(
    save: Callable[[Path], None], tmp_path: Path
) -> None:
    file = tmp_path / "songs" / "song.txt"
    file.parent.mkdir()
    file.write_text("old", encoding="utf-8")
    with following(file, tmp_path / "none.txt") as found:
        save(file)
        assert found.get(timeout=HEARD_SEC) == {file}
        in_place(file)
        file.write_text("and once more", encoding="utf-8")
        assert found.get(timeout=HEARD_SEC) == {file}


def test_the_system_tells_before_anybody_looks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the folders are watched, which is some time after the thread began."""
    monkeypatch.setattr("groove.io.watch.LOOK_MS", 60_000)
    (tmp_path / "real").mkdir()
    real, plain = tmp_path / "real" / "song.txt", tmp_path / "plain" / "song.txt"
    real.write_text("old", encoding="utf-8")
    plain.parent.mkdir()
    plain.symlink_to(real)
    with following(plain) as found:
        for _ in range(100):
            renamed_over(real)
            with suppress(Empty):
                assert found.get(timeout=0.2) == {plain}
                return
    pytest.fail("nobody told of a hundred saves")


def test_a_save_is_seen_by_time_length_or_number(tmp_path: Path) -> None:
    file = tmp_path / "song.txt"
    file.write_text("old", encoding="utf-8")
    os.utime(file, ns=(0, 5_000_000))
    watch = FileWatch(lambda: [file])
    os.utime(file, ns=(0, 6_000_000))  # within the same second
    assert watch.changed() == {file}
    file.write_text("longer", encoding="utf-8")
    os.utime(file, ns=(0, 6_000_000))
    assert watch.changed() == {file}
    other = tmp_path / "other.txt"
    other.write_text("LONGER", encoding="utf-8")
    os.utime(other, ns=(0, 6_000_000))
    other.replace(file)
    assert watch.changed() == {file}


def test_a_save_through_a_link_is_heard(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "song.txt").write_text("old", encoding="utf-8")
    link = tmp_path / "song.txt"
    link.symlink_to(tmp_path / "real" / "song.txt")
    with following(link) as found:
        renamed_over(tmp_path / "real" / "song.txt")
        assert found.get(timeout=HEARD_SEC) == {link}


def test_what_else_happens_in_the_folder_is_not_told(tmp_path: Path) -> None:
    file = tmp_path / "song.txt"
    file.write_text("old", encoding="utf-8")
    with following(file) as found:
        (tmp_path / "song.mid").write_bytes(b"MThd")
        file.read_text(encoding="utf-8")
        file.chmod(0o600)
        with pytest.raises(Empty):
            found.get(timeout=STILL_SEC)


def test_several_saves_at_once_are_told_once(tmp_path: Path) -> None:
    files = [tmp_path / f"{name}.txt" for name in "abc"]
    for file in files:
        file.write_text("old", encoding="utf-8")
    with following(*files) as found:
        for file in files:
            in_place(file)
        told: set[Path] = set()
        while told != set(files):
            changed = found.get(timeout=HEARD_SEC)
            assert not told & changed
            told |= changed
        assert len(told) == 3


def test_a_file_that_comes_and_goes(tmp_path: Path) -> None:
    file = tmp_path / "cell.toml"
    watch = FileWatch(lambda: tmp_path.glob("*.toml"))
    assert watch.changed() == frozenset()
    file.write_text("new", encoding="utf-8")
    assert watch.changed() == {file}
    assert watch.changed() == frozenset()
    file.unlink()
    assert watch.changed() == {file}
    assert watch.changed() == frozenset()


def test_what_changes_before_the_watch_begins_is_told(tmp_path: Path) -> None:
    file = tmp_path / "song.txt"
    file.write_text("old", encoding="utf-8")
    watch = FileWatch(lambda: [file])
    in_place(file)
    stop = threading.Event()
    timer = threading.Timer(10, stop.set)
    timer.start()
    assert next(watch.changes(stop)) == {file}
    timer.cancel()


def test_a_system_that_refuses_to_watch_is_an_error_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object, **__: object) -> Iterator[object]:
        raise RuntimeError("no space left")
        yield

    monkeypatch.setattr("watchfiles.watch", refused)
    with pytest.raises(OutputError, match="cannot watch 1 folders: no space left"):
        next(FileWatch(lambda: [tmp_path / "song.txt"]).changes())
