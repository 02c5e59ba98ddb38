"""``groove gig --cluster``: what a Dask cluster makes is what this machine makes, byte for byte.

The cluster is Dask's own (``distributed.LocalCluster``), in another process and another folder, so
that nothing is read there by a path of ours.
"""

import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator

import pytest

from groove.cli import cluster
from groove.cli.cluster import ClusterAnswer, _next
from groove.cli.gig_songs import MadeSong
from groove.errors import GrooveError, OptionError
from tests.cli.command import Command
from tests.cli.test_gig_command import PLUM, contents
from tests.conftest import ROOT

FERN = "title: Fern\ntempo: 60\nmeter: 3/4\nkey: A\nverse:\n| A | E7 |\n"
OWN = "title: Own\nkey: D\nbass: pebble\nverse:\n| D | A |\n"
PEBBLE = 'format = 1\nname = "pebble"\nsummary = "x"\nmeter = "4/4"\nslots_per_beat = 1\n'
PEBBLE += 'steps = "R 5 8 5"\nlevels = "9 7 7 6"\n'
SET = "plum.txt, key F\nbreak 20\nfern.txt, tempo 90\nbroken\ngone\nown\n"


@pytest.fixture
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    running = subprocess.Popen(
        [sys.executable, "-m", "tests.cli.running_cluster"],
        cwd=tmp_path_factory.mktemp("elsewhere"),
        env=env,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert running.stdout and running.stdin
    yield running.stdout.readline().strip()
    running.kill()
    running.communicate()


def test_the_folder_is_the_one_that_this_machine_makes(
    groove: Command, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Own cells and the stated date go there too, and what is broken stops only itself."""
    for name, text in (("plum", PLUM), ("fern", FERN), ("own", OWN), ("broken", "verse:\n| Z |\n")):
        groove.write(f"{name}.txt", text)
    groove.write("friday.txt", SET)
    (groove.folder / "my" / "bass").mkdir(parents=True)
    (groove.folder / "my" / "bass" / "pebble.toml").write_text(PEBBLE, encoding="utf-8")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    monkeypatch.setattr(cluster, "CONNECT_SEC", 120.0)
    words = ("gig", "friday.txt", "--as", "mid,sheet", "--patterns", "my")
    here = groove(*words, "--jobs", "1", "-o", "here/")
    there = groove(*words, "--cluster", address, "-o", "there/")
    assert (there.code, there.out) == (here.code, here.out) == (1, here.out)
    assert there.err == here.err.replace("in here", "in there")
    assert "3 made, 0 as they were" in there.err and "broken.txt:2:3" in there.err
    made = contents(groove.folder / "there")
    assert made == contents(groove.folder / "here")
    # Three songs of three files and a record each, the book and its record, the index.
    assert len(made) == 3 * 4 + 3


class _Socket:
    """Something that listens, and is no scheduler: it says what it is told to, once."""

    def __init__(self, said: bytes) -> None:
        self.server = socket.create_server(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{self.server.getsockname()[1]}"
        self.said = said
        self.open: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                found, _ = self.server.accept()
            except OSError:
                return
            self.open.append(found)
            if self.said:
                found.sendall(self.said)

    def close(self) -> None:
        for each in (self.server, *self.open):
            each.close()


@pytest.mark.parametrize(
    ("said", "sec", "told"),
    [
        (b"", 0.3, "nobody answers there within 0.3 s"),
        (None, 0.3, "nobody answers there within 0.3 s"),
        (b"HTTP/1.1 400 Bad Request\r\n\r\n" * 9, 120.0, "what answers there is no scheduler"),
    ],
    ids=["silent", "nobody", "another service"],
)
def test_an_address_without_a_scheduler_is_one_error(
    groove: Command, monkeypatch: pytest.MonkeyPatch, said: bytes | None, sec: float, told: str
) -> None:
    """However long a machine takes to begin: what never answers is not waited for."""
    groove.write("plum.txt", PLUM)
    groove.write("one.txt", "plum\n")
    monkeypatch.setattr(cluster, "CONNECT_SEC", sec)
    other = _Socket(said or b"")
    if said is None:
        other.close()
    answer = groove("gig", "one.txt", "--cluster", other.address, "-o", "out/")
    other.close()
    expected = "expected the address that dask scheduler prints, e.g. tcp://192.168.1.20:8786"
    head = f"the cluster at {other.address} is of no use: "
    assert (answer.code, answer.out) == (2, "")
    assert answer.err == f"{head}{told}\n  {expected}\n"
    assert groove.files() == {"plum.txt", "one.txt"}


@pytest.mark.parametrize(
    ("answer", "told"),
    [
        (ClusterAnswer(), "the scheduler at h:1 has no workers\n  start some: dask worker h:1\n"),
        (
            ClusterAnswer(("x",)),
            "the workers of h:1 have another groove than this one\n",
        ),
        (
            ClusterAnswer(error="its workers have no groove"),
            "the cluster at h:1 is of no use: its",
        ),
    ],
)
def test_a_cluster_that_cannot_do_it(
    groove: Command, monkeypatch: pytest.MonkeyPatch, answer: ClusterAnswer, told: str
) -> None:
    groove.write("one.txt", "plum\n")
    monkeypatch.setattr(cluster, "_answer", lambda _: answer)
    said = groove("gig", "one.txt", "--cluster", "h:1")
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith(told)
    assert groove.files() == {"one.txt"}


def test_without_the_extra_the_line_that_installs_it(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    groove.write("one.txt", "plum\n")
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = groove("gig", "one.txt", "--cluster", "h:1")
    assert said.code == 2
    told = "distributed is missing, which runs a set on a cluster\n  pip install '.[cluster]'\n"
    assert said.err == told


def test_jobs_are_of_this_machine(groove: Command) -> None:
    said = groove("gig", "one.txt", "--cluster", "h:1", "--jobs", "2")
    assert said.code == 2
    assert said.err.startswith("--cluster has as many songs made at a time as it has workers")


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (RuntimeError("worker gone\nand more"), "worker gone"),
        (RuntimeError("batch-7 cancelled for reason: connection-lost."), "connection-lost"),
        (TimeoutError(), "TimeoutError"),
    ],
)
def test_a_cluster_that_is_lost_is_one_error(error: Exception, told: str) -> None:
    def lost() -> Iterator[MadeSong | GrooveError]:
        raise error
        yield

    with pytest.raises(OptionError) as refused:
        _next(lost(), "h:1")
    assert refused.value.message == f"the cluster at h:1 was lost: {told}"
    assert "songs that came back are kept" in refused.value.hint
