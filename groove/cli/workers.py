"""Work shared out among processes that end when they should.

An executor of processes from the standard library would not do: its workers wait for ever for a
parent that was killed, one that dies takes all others with it, and its helpers complain on the
terminal where the parent ends at once.  Here every worker has a pipe, and ends with it.
"""

import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from queue import SimpleQueue
from typing import Generic, TypeVar

from groove.cli.garbage import collect_rarely
from groove.cli.interrupts import before_stopping, stop_silently

GRACE_SEC = 5.0
"""How long a worker may take to leave nothing half-written."""

Item = TypeVar("Item")
_Result = TypeVar("_Result")


class Crew(Generic[Item, _Result]):
    """Worker processes, each of which does one thing at a time."""

    def __init__(
        self,
        work: Callable[[Item], _Result],
        size: int,
        *,
        lost: Callable[[Item, int], _Result],
    ) -> None:
        """Start the workers; ``work`` and what goes through it are pickled.

        ``lost`` makes the result for an item whose worker ended over it, of the item and the
        worker's exit code (a signal's number with a minus).
        """
        self._work = work
        self._lost = lost
        self._size = size
        self._idle: SimpleQueue[subprocess.Popen[bytes]] = SimpleQueue()
        self._all: list[subprocess.Popen[bytes]] = []
        self._is_stopping = False
        before_stopping(self._stop)
        for _ in range(size):
            self._start_one()

    def results(self, items: Sequence[Item], begin: Sequence[int] = ()) -> Iterator[_Result]:
        """Yield the result of every item in order, and let the workers go.

        ``begin`` are the indices of the items in the order in which they are begun, where that is
        another one.
        """
        try:
            # The threads only wait for their workers; signals come to the main one.
            with ThreadPoolExecutor(self._size) as waiters:
                begun = begin or range(len(items))
                found = {index: waiters.submit(self._result, items[index]) for index in begun}
                for index in range(len(items)):
                    yield found.pop(index).result()
        finally:
            for worker in self._all:
                with suppress(OSError):  # what a worker that has ended did not take
                    worker.communicate()

    def _start_one(self) -> None:
        # A synthesizer's threads do not survive a fork, so every process starts afresh.  It has
        # a session of its own: Ctrl-C comes to us alone, and we end it.
        worker = subprocess.Popen(
            [sys.executable, "-c", f"from {__name__} import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,
        )
        self._all.append(worker)
        with suppress(OSError):  # told where it is given something to do
            _send(worker, self._work)
        self._idle.put(worker)

    def _result(self, item: Item) -> _Result:
        worker = self._idle.get()
        try:
            _send(worker, item)
            assert worker.stdout is not None
            result: _Result = pickle.load(worker.stdout)
        except (EOFError, OSError, pickle.UnpicklingError):
            if not self._is_stopping:  # else it was we who ended it
                self._start_one()
            return self._lost(item, worker.wait())
        self._idle.put(worker)
        return result

    def _stop(self) -> None:
        self._is_stopping = True
        ended = tuple(self._all)  # one that is started meanwhile ends with its pipe
        for worker in ended:
            worker.terminate()
        for worker in ended:
            try:
                worker.wait(GRACE_SEC)
            except subprocess.TimeoutExpired:
                worker.kill()


def _send(worker: subprocess.Popen[bytes], value: object) -> None:
    assert worker.stdin is not None
    worker.stdin.write(pickle.dumps(value))
    worker.stdin.flush()


def serve() -> None:
    """Do the work that comes first through standard input, for what comes after it, to its end."""
    signal.signal(signal.SIGTERM, stop_silently)
    collect_rarely()
    results = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed does not belong among the results
    with suppress(EOFError, BrokenPipeError):  # whoever asked is gone
        work = pickle.load(sys.stdin.buffer)
        while True:
            results.write(pickle.dumps(work(pickle.load(sys.stdin.buffer))))
            results.flush()
