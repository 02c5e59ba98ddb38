"""A set made by a Dask cluster, which is a fork of the one process that has loaded Dask.

    python -m tests.cli.running_cluster <<< '{"folder": …, "words": …, "date": …, "stranger": …}'

Dask takes over a second to load: so whoever asks a scheduler is a fork, too.  Prints what was
answered and what the command said, as JSON.  The cluster stays in the folder that this was started
in, without the stated date, so that nothing is there by a path or an environment of ours.
"""

import io
import json
import os
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from types import SimpleNamespace
from typing import Any

from distributed import LocalCluster
from distributed.client import ClosedClientError, FutureCancelledError
from distributed.comm import CommClosedError
from distributed.scheduler import KilledWorker, NoWorkerError
from joblib.parallel import TimeoutError as NothingCameError

from groove.cli import cluster
from groove.cli.gig_songs import MadeSong
from groove.cli.main import main
from groove.errors import GrooveError, OptionError

ANSWER_SEC = 120.0


@contextmanager
def forked_cluster() -> Iterator[str]:
    """Give the address of a scheduler with two workers in a fork, which ends with us at last."""
    told, tell = os.pipe()
    our_end, ours = os.pipe()
    if child := os.fork():
        os.close(tell)
        with os.fdopen(told) as line:
            yield line.readline().strip()
        os.close(ours)
        os.waitpid(child, 0)
        return
    os.close(ours)
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address=None,
    ) as running:
        os.write(tell, f"{running.scheduler_address}\n".encode())
        os.read(our_end, 1)
        os._exit(0)


def asked(address: str, sec: float = ANSWER_SEC) -> dict[str, object]:
    """Return what another process makes of who listens at an address, in so many seconds."""
    told, tell = os.pipe()
    if child := os.fork():
        os.close(tell)
        with os.fdopen(told) as answer:
            found: dict[str, object] = json.loads(answer.read())
        os.waitpid(child, 0)
        return found
    os.dup2(tell, 1)
    sys.argv = ["", address, f"{sec}"]
    cluster.print_answer()
    raise AssertionError("it ends by itself")


def closed_address() -> str:
    """Return an address where nobody listens any more."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return f"127.0.0.1:{server.getsockname()[1]}"


def said(words: list[str]) -> dict[str, object]:
    """Run the command and return its code and what it said."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    sys.argv = ["groove", *words]
    with redirect_stdout(out), redirect_stderr(err):
        try:
            main()
        except SystemExit as stop:
            code = int(stop.code or 0)
    return {"code": code, "out": out.getvalue(), "err": err.getvalue()}


def raising(error: Exception) -> Iterator[MadeSong | GrooveError]:
    """Return results of which the next is an error."""
    raise error
    yield


def told_of(error: Exception) -> str:
    """Return what is told of an error that comes instead of a song, or which other one it is."""
    try:
        cluster._next(raising(error), "h:1")
    except OptionError as refused:
        assert "songs that came back are kept" in refused.hint
        return refused.message
    except Exception as other:
        return type(other).__name__
    raise AssertionError("nothing was raised")


def losses() -> list[str]:
    """Return what is told of each error that Dask and joblib have for a loss, then of others."""
    worker: Any = SimpleNamespace(address="tcp://h:2")
    errors = (
        CommClosedError("worker gone\nand more"),
        FutureCancelledError("batch-7", "connection-lost", "and more"),
        NothingCameError(),
        KilledWorker("batch-7", worker, 0),
        ClosedClientError("client closed"),
        NoWorkerError("batch-7", 3.0),
        KeyError("stem"),
        AssertionError("an invariant"),
        RuntimeError("ours"),
    )
    return [told_of(error) for error in errors]


def run() -> None:
    """Do what standard input asks for."""
    wanted = json.load(sys.stdin)
    with forked_cluster() as address:
        answers = [asked(address), asked(wanted["stranger"]), asked(closed_address(), 0.1)]
        probe = f"print({json.dumps(answers[0])!r})"
        vars(cluster).update(CONNECT_SEC=ANSWER_SEC, _PROBE=probe)
        os.chdir(wanted["folder"])
        os.environ["SOURCE_DATE_EPOCH"] = wanted["date"]
        there = said([*wanted["words"], "--cluster", address])
    print(json.dumps({"answers": answers, "said": there, "losses": losses()}))


if __name__ == "__main__":
    run()
