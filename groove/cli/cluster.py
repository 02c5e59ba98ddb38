"""A set made by a Dask cluster, through joblib; imported only where ``--cluster`` asks for it.

What is sent is the song as it was read here, and the player's own cells; what comes back are the
files' bytes, which are written here.  So a worker shares no disk with us: it needs groove itself,
the same as here, and for sound its own soundfont, or the named one at the same path.
"""

import json
import logging
import os
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Timer
from typing import Any

from msgspec import Struct

from groove.cells.model import Library
from groove.chart.model import Song
from groove.cli.gig_songs import GigMaker, MadeSong, SongJob, keep_song, made_song, song_of
from groove.cli.gigging import Making, SongOutcome
from groove.cli.interrupts import before_stopping
from groove.cli.jobs import attempted
from groove.cli.values import refused
from groove.errors import GrooveError, OptionError
from groove.io.gig_folder import GigFolder, GigFolderError, program_digest
from groove.io.library import load_library
from groove.io.pdf import DATE

INSTALL = "pip install '.[cluster]'"
ADDRESS_EXPECTED = "the address that dask scheduler prints, e.g. tcp://192.168.1.20:8786"
CONNECT_SEC = 30.0
"""How long a scheduler may take to answer, its workers too, before the call ends."""
SONG_SEC = 600.0
"""How long nothing may come back: a worker that was lost is not told of otherwise."""
NO_SCHEDULER = "what answers there is no scheduler"
_ADDRESS = re.compile(r"(?:(?:tcp|tls|ws|wss)://)?(?:\[[0-9a-fA-F:.]+\]|[\w.-]+):([0-9]{1,5})/?")
_PROBE = "from groove.cli.cluster import print_answer; print_answer()"
_one_thread = ThreadPoolExecutor(1)
"""Dask's workers have threads; the engraver draws in the first that asks it, in no other (verovio
5, tried), and so one thread of a process makes all of its songs."""


class ClusterAnswer(Struct, frozen=True):
    """What a cluster says of itself: what its workers' groove is; ``error`` where it cannot."""

    programs: tuple[str, ...] = ()
    error: str = ""


def by_cluster(address: str) -> Making:
    """Return how songs are made by the workers of a scheduler.

    Raises OptionError where there is none at this address that answers, or none that can do it.
    """
    match = _ADDRESS.fullmatch(address)
    if not match or not 0 < int(match[1]) < 65536:
        raise refused("--cluster", address, ADDRESS_EXPECTED)
    try:
        import distributed  # noqa: F401
        import joblib  # noqa: F401
    except ImportError as error:
        raise OptionError(
            f"{error.name} is missing, which runs a set on a cluster", hint=INSTALL
        ) from None
    _check(address, _answer(address))

    def make(jobs: Sequence[SongJob], maker: GigMaker) -> Iterator[SongOutcome]:
        record = next((job.record for job in jobs if job.record), None)
        if record:
            raise OptionError(
                f"--cluster beside {record}: a record stays on the player's machine",
                hint="leave --cluster out, or the record out of the set",
            )
        return _results(address, jobs, maker)

    return make


def _check(address: str, answer: ClusterAnswer) -> None:
    """Raise OptionError for a cluster that cannot make what we would."""
    if answer.error:
        raise OptionError(
            f"the cluster at {address} is of no use: {answer.error}",
            hint=f"expected {ADDRESS_EXPECTED}",
        )
    if not answer.programs:
        raise OptionError(
            f"the scheduler at {address} has no workers", hint=f"start some: dask worker {address}"
        )
    if set(answer.programs) != {program_digest()}:
        raise OptionError(
            f"the workers of {address} have another groove than this one",
            hint="install the same version, and the same packages, on all of them",
        )


def _answer(address: str) -> ClusterAnswer:
    """Ask a scheduler by another process, which is ended where it takes too long.

    A client waits for ever for one that accepts and then says nothing (distributed 2026.8, tried).
    """
    asking = subprocess.Popen(
        [sys.executable, "-c", _PROBE, address, str(CONNECT_SEC)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        stdin=subprocess.DEVNULL,
    )
    before_stopping(asking.kill)
    try:
        out, _ = asking.communicate(timeout=CONNECT_SEC)
    except subprocess.TimeoutExpired:
        asking.kill()
        asking.communicate()
        return ClusterAnswer(error=f"nobody answers there within {CONNECT_SEC:g} s")
    with suppress(ValueError):
        found = json.loads(out)
        return ClusterAnswer(tuple(found["programs"]), found["error"])
    return ClusterAnswer(error=NO_SCHEDULER)


def print_answer() -> None:
    """Print what a scheduler's workers are, as JSON; the process ends by itself in any case."""
    address, sec = sys.argv[1], float(sys.argv[2])
    end = Timer(2 * sec, os._exit, [1])  # where whoever asked was killed
    end.daemon = True
    end.start()
    found: dict[str, Any] = {"programs": [], "error": ""}
    try:
        with _client(address, sec) as client:
            found["programs"] = list(client.run(program_digest).values())
    except ModuleNotFoundError as error:
        found["error"] = f"its workers have no {error.name}"
    except OSError:
        found["error"] = f"nobody answers there within {sec:g} s"
    except Exception:  # whatever bytes that are no scheduler's are taken for
        found["error"] = NO_SCHEDULER
    print(json.dumps(found), flush=True)
    os._exit(0)  # a client that is half open waits for its end


def _client(address: str, sec: float) -> Any:
    """Return a client of a scheduler, which says nothing by itself."""
    from distributed import Client

    for name in logging.root.manager.loggerDict:
        if name.partition(".")[0] == "distributed":  # each has a level of its own
            logging.getLogger(name).setLevel(logging.CRITICAL)
    return Client(address, timeout=sec, set_as_default=False)


def _results(address: str, jobs: Sequence[SongJob], maker: GigMaker) -> Iterator[SongOutcome]:
    """Yield what came of every song, in order, its files written here."""
    import joblib

    folder = GigFolder(maker.folder)
    cells = load_library(maker.patterns) if maker.patterns else None
    read = [attempted(job, song_of) for job in jobs]
    calls = [
        joblib.delayed(made_there)(job, song, cells, maker, os.environ.get(DATE))
        for job, song in zip(jobs, read, strict=True)
        if isinstance(song, Song)
    ]
    with _client(address, CONNECT_SEC) as client:
        with joblib.parallel_config(backend="dask", client=client):
            parallel = joblib.Parallel(
                batch_size=1, pre_dispatch="all", return_as="generator", timeout=SONG_SEC
            )
            made = parallel(calls)
        for job, song in zip(jobs, read, strict=True):
            if isinstance(song, GrooveError):
                yield song
            else:
                yield _kept(folder, job, _next(made, address))


def _next(made: Iterator[MadeSong | GrooveError], address: str) -> MadeSong | GrooveError:
    """Return what came back next.  Raises OptionError where the cluster was lost.

    What fails in our own code on a worker is raised as it is, as on this machine.
    """
    try:
        return next(made)
    except _lost_errors() as error:
        told = str(error).partition("\n")[0] or type(error).__name__
        # What stands before the reason is the name of a task.
        reason = told.rpartition("for reason: ")[2].removesuffix(".")
        raise OptionError(
            f"the cluster at {address} was lost: {reason}"[:400],
            hint="songs that came back are kept: call it again, with --cluster or without",
        ) from None


def _lost_errors() -> tuple[type[Exception], ...]:
    """Return what is raised where a scheduler, its workers or the way to them are lost.

    Connections are OSErrors; what is given up is cancelled, or fails for want of a worker; joblib
    tells with the time limit of multiprocessing that nothing came for ``SONG_SEC``.
    """
    from concurrent.futures import CancelledError
    from multiprocessing import TimeoutError as NothingCameError

    from distributed.client import ClosedClientError
    from distributed.scheduler import KilledWorker, NoWorkerError

    lost = (OSError, CancelledError, NothingCameError, ClosedClientError)
    return (*lost, KilledWorker, NoWorkerError)


def _kept(folder: GigFolder, job: SongJob, made: MadeSong | GrooveError) -> SongOutcome:
    if isinstance(made, GrooveError):
        return made
    try:
        return keep_song(folder, job.stem, made)
    except GigFolderError as error:
        return error


def made_there(
    job: SongJob, song: Song, cells: Library | None, maker: GigMaker, date: str | None
) -> MadeSong | GrooveError:
    """Return the files of a song, on a worker; ``date`` is what the caller's environment states."""

    def work(asked: SongJob) -> MadeSong:
        if date is None:
            os.environ.pop(DATE, None)
        else:
            os.environ[DATE] = date
        return made_song(asked, song, cells or load_library(), maker)

    return _one_thread.submit(attempted, job, work).result()
