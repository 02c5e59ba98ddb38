"""``groove gig --cluster``: what a Dask cluster makes is what this machine makes, byte for byte.

The cluster is Dask's own (``distributed.LocalCluster``), in another process and another folder, so
that nothing is read there by a path of ours.
"""

import json
import os
import socket
import subprocess
import sys
import threading
from types import ModuleType

import pytest

from groove.cli import cluster
from groove.cli.cluster import NO_SCHEDULER, ClusterAnswer
from groove.io.gig_folder import program_digest
from tests.cli.command import Command, Said
from tests.cli.gig_folders import PLUM, contents
from tests.conftest import ROOT

OWN = "title: Own\nkey: D\nbass: pebble\nverse:\n| D | A |\n"
PEBBLE = 'format = 1\nname = "pebble"\nsummary = "x"\nmeter = "4/4"\nslots_per_beat = 1\n'
PEBBLE += 'steps = "R 5 8 5"\nlevels = "9 7 7 6"\n'
DATE = "1700000000"
SET = "plum.txt, key F\nbreak 20\nbroken\ngone\nown, tempo 90\n"


@pytest.fixture
def without_dask(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the extra seem to be there: who does not get as far as a client needs none of it."""
    for name in ("distributed", "joblib"):
        monkeypatch.setitem(sys.modules, name, ModuleType(name))


def answering(answer: dict[str, object]) -> str:
    """Return a program that prints what another process was told when it asked."""
    return f"print({json.dumps(answer)!r})"


def test_the_folder_is_the_one_that_this_machine_makes(
    groove: Command, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Own cells and the stated date go there too, and what is broken stops only itself."""
    for name, text in (("plum", PLUM), ("own", OWN), ("broken", "verse:\n| Z |\n")):
        groove.write(f"{name}.txt", text)
    groove.write("friday.txt", SET)
    (groove.folder / "my" / "bass").mkdir(parents=True)
    (groove.folder / "my" / "bass" / "pebble.toml").write_text(PEBBLE, encoding="utf-8")
    words = ["gig", "friday.txt", "--as", "mid,sheet", "--patterns", "my"]
    stranger = _Socket(b"HTTP/1.1 400 Bad Request\r\n\r\n" * 9)
    asked = {"folder": str(groove.folder), "words": [*words, "-o", "there/"], "date": DATE}
    done = subprocess.run(
        [sys.executable, "-m", "tests.cli.running_cluster"],
        cwd=tmp_path_factory.mktemp("elsewhere"),
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        input=json.dumps({**asked, "stranger": stranger.address}),
        capture_output=True,
        text=True,
        check=False,
    )
    stranger.close()
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DATE)
    here = groove(*words, "--jobs", "1", "-o", "here/")
    there = Said(**told["said"])
    assert (there.code, there.out) == (here.code, here.out) == (1, here.out)
    assert there.err == here.err.replace("in here", "in there")
    assert "2 made, 0 as they were" in there.err and "broken.txt:2:3" in there.err
    made = contents(groove.folder / "there")
    assert made == contents(groove.folder / "here")
    # Two songs of three files and a record each, the book and its record, the index.
    assert len(made) == 2 * 4 + 3
    assert told["answers"] == [
        {"programs": [program_digest()] * 2, "error": ""},
        {"programs": [], "error": NO_SCHEDULER},
        {"programs": [], "error": "nobody answers there within 0.1 s"},
    ]
    check_losses(told["losses"])


def check_losses(told: list[str]) -> None:
    """Check that a cluster that is lost is one error, and no error of our own is told as that."""
    reasons = (
        "worker gone",
        "connection-lost",
        "TimeoutError",
        "Attempted to run task 'batch-7'",
        "client closed",
        "without any running workers",
    )
    for found, reason in zip(told[:-3], reasons, strict=True):
        assert found.startswith("the cluster at h:1 was lost: ") and reason in found
    assert "\n" not in "".join(told) and "and more" not in "".join(told)
    assert told[-3:] == ["KeyError", "AssertionError", "RuntimeError"]


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
        self.server.shutdown(socket.SHUT_RDWR)  # else one that waits in accept(2) has one more
        for each in (self.server, *self.open):
            each.close()


@pytest.mark.parametrize(
    ("probe", "sec", "told"),
    [
        (cluster._PROBE, 0.3, "nobody answers there within 0.3 s"),
        (answering({"programs": [], "error": NO_SCHEDULER}), 120.0, NO_SCHEDULER),
        ("print('what is that')", 120.0, NO_SCHEDULER),
    ],
    ids=["silent", "another service", "an end that says nothing"],
)
def test_an_address_without_a_scheduler_is_one_error(
    groove: Command,
    monkeypatch: pytest.MonkeyPatch,
    without_dask: None,
    probe: str,
    sec: float,
    told: str,
) -> None:
    """However long a machine takes to begin: what never answers is not waited for."""
    groove.write("plum.txt", PLUM)
    groove.write("one.txt", "plum\n")
    monkeypatch.setattr(cluster, "CONNECT_SEC", sec)
    monkeypatch.setattr(cluster, "_PROBE", probe)
    other = _Socket(b"")
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
    groove: Command,
    monkeypatch: pytest.MonkeyPatch,
    without_dask: None,
    answer: ClusterAnswer,
    told: str,
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
