"""Charts shared out among processes: which is begun first, and in which order they are told of."""

import json
import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from groove.cli.jobs import longest_first
from groove.cli.workers import Crew
from tests.cli.command import Command
from tests.conftest import ROOT
from tests.killed_worker import noted

CHART = "tempo: {bpm}\nmeter: {meter}\nverse:\n| D | A |\nform: verse x{times}\n"


def test_the_longest_song_is_begun_first(groove: Command) -> None:
    """By hand: 8 s at 60 in four, 3 s at 120 in three, 12 s, and 4 s in a file that is longer."""
    for name, bpm, meter, times in (
        ("eight", 60, "4/4", 1),
        ("three", 120, "3/4", 1),
        ("twelve", 60, "3/4", 2),
    ):
        groove.write(f"{name}.txt", CHART.format(bpm=bpm, meter=meter, times=times))
    groove.write("four.txt", CHART.format(bpm=120, meter="4/4", times=1) + "# remark\n" * 50)
    groove.write("broken.txt", "verse:\n| Zebra |\n")
    names = ["broken.txt", "three.txt", "eight.txt", "gone.txt", "four.txt", "twelve.txt"]
    groove.monkeypatch.chdir(groove.folder)
    # What cannot be read comes last.
    assert list(longest_first(names, 2)) == [5, 2, 4, 1, 0, 3]
    assert list(longest_first(names * 6, 2)) == list(range(36))


def test_what_is_begun_first_is_told_of_in_its_place(tmp_path: Path) -> None:
    begun = tmp_path / "begun"
    crew = Crew(partial(noted, begun), 1, lost=lambda item, code: code)
    assert list(crew.results([3, 4, 5], [2, 0, 1])) == [30, 40, 50]
    assert begun.read_text() == "5 3 4 "
    begun.unlink()
    crew = Crew(partial(noted, begun), 1, lost=lambda item, code: code)
    assert list(crew.results([3, 4, 5])) == [30, 40, 50]
    assert begun.read_text() == "3 4 5 "


@pytest.mark.parametrize("others", [0, 1])
def test_a_worker_is_a_copy_only_where_no_thread_would_be_lost(others: int) -> None:
    """fork(2): the copy has one thread, whatever locks the others held."""
    code = (
        "import sys, threading; from groove.cli.workers import Crew\n"
        "from tests.killed_worker import lost, process_and_session\n"
        "end = threading.Event()\n"
        "threads = [threading.Thread(target=end.wait) for _ in range(int(sys.argv[1]))]\n"
        "for thread in threads: thread.start()\n"
        "sys.loaded_here = True\n"
        "print(*Crew(process_and_session, 1, lost=lost).results([1, 2])); end.set()"
    )
    command = [sys.executable, "-W", "error", "-c", code, f"{others}"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    is_copy = sys.platform == "linux" and not others
    assert done.stdout.split() == [f"copy={is_copy}", "own=True"] * 2
    assert done.stderr == ""


def test_several_jobs_give_the_same_files_and_a_bad_chart_fails_alone(groove: Command) -> None:
    """Standard input is one of them.

    A worker has none: whoever waited for it would wait for ever.
    """
    for name, bpm in (("one", 60), ("two", 90), ("chart", 120)):
        groove.write(f"{name}.txt", CHART.format(bpm=bpm, meter="4/4", times=1))
    groove.write("bad.txt", "verse:\n| Q |\n")
    alone = groove("render", "one.txt", "bad.txt", "chart.txt", "two.txt", "-o", "a/", "--json")
    words = ("one.txt", "bad.txt", "-", "two.txt", "-o", "b/", "--jobs", "2", "--json")
    said = subprocess.run(
        [sys.executable, "-m", "groove", "render", *words],
        cwd=groove.folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        input=(groove.folder / "chart.txt").read_text(encoding="utf-8"),
        capture_output=True,
        text=True,
        check=False,
    )
    assert said.returncode == alone.code == 1
    one, bad, standard, two = map(json.loads, said.stdout.splitlines())
    assert [row["files"] for row in (one, standard, two)] == [
        ["b/one.mid"],
        ["b/chart.mid"],
        ["b/two.mid"],
    ]
    assert (bad["error"]["line"], bad["error"]["column"]) == (2, 3)
    assert bad["error"] == alone.json[1]["error"]
    for name in ("one.mid", "chart.mid", "two.mid"):
        a, b = (groove.folder / folder / name for folder in ("a", "b"))
        assert a.read_bytes() == b.read_bytes()
