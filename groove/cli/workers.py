"""Work shared out among processes that end when they should.

The pools of the standard library and of joblib would not do: a worker that dies takes all others
with it, or what it did is waited for without end.  So processes and pipes are multiprocessing's,
and who does what is decided here.  Every worker has a pipe of its own, and ends with it.
"""

import os
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from groove.cli.garbage import collect_rarely
from groove.cli.interrupts import before_stopping, stops_held, work_for_another

if TYPE_CHECKING:
    from multiprocessing.context import ForkContext, SpawnContext

GRACE_SEC = 5.0
"""How long a worker may take to leave nothing half-written."""
_OWN_THREADS = Path("/proc/self/task")

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
        self._workers: dict[Connection, BaseProcess] = {}
        before_stopping(self._stop)
        for _ in range(size):
            self._start_one()

    def results(self, items: Sequence[Item], begin: Sequence[int] = ()) -> Iterator[_Result]:
        """Yield the result of every item in order, and let the workers go.

        ``begin`` are the indices of the items in the order in which they are begun, where that is
        another one.
        """
        waiting = deque(begin or range(len(items)))
        begun: dict[Connection, int] = {}
        found: dict[int, _Result] = {}

        def give(worker: Connection) -> None:
            if waiting:
                begun[worker] = waiting.popleft()
                with suppress(OSError):  # one that has ended is noticed where it is waited for
                    worker.send(items[begun[worker]])

        try:
            for worker in self._workers:
                give(worker)
            for index in range(len(items)):
                while index not in found:
                    ready = wait(begun)
                    for worker in [one for one in begun if one in ready]:
                        done = begun.pop(worker)
                        found[done], free = self._received(worker, items[done])
                        give(free)
                yield found.pop(index)
        finally:
            for worker in self._workers:
                worker.close()
            for process in self._workers.values():
                process.join()

    def _received(self, worker: Connection, item: Item) -> tuple[_Result, Connection]:
        """Return what came of an item, and who can do the next one."""
        try:
            result: _Result = worker.recv()
        except (EOFError, OSError):
            process = self._workers.pop(worker)
            worker.close()
            process.join()
            return self._lost(item, process.exitcode or 0), self._start_one()
        return result, worker

    def _start_one(self) -> Connection:
        context = _context()
        ours, theirs = context.Pipe()
        # A copy of this process has copies of our ends too, with which no pipe would ever end.
        copied = (*self._workers, ours) if context.get_start_method() == "fork" else ()
        process = context.Process(target=_serve, args=(self._work, theirs, copied), daemon=True)
        with stops_held():
            process.start()
            self._workers[ours] = process
        theirs.close()
        return ours

    def _stop(self) -> None:
        ended = tuple(self._workers.values())
        for process in ended:
            process.terminate()
        for process in ended:
            process.join(GRACE_SEC)
            process.kill()


def _context() -> "ForkContext | SpawnContext":
    """Return how a worker begins: as a copy of this process, which has loaded everything already.

    Threads do not survive that, a synthesizer's or those of numpy's algebra, nor do a Mac's own
    libraries: then it begins afresh.
    """
    if sys.platform == "linux":
        with suppress(OSError):  # where the system does not say
            if len(list(_OWN_THREADS.iterdir())) == 1:
                return get_context("fork")
    return get_context("spawn")


def _serve(
    work: Callable[[Item], object], results: Connection, copied: Sequence[Connection]
) -> None:
    """Do the work for what comes, to the end of the pipe."""
    work_for_another()
    collect_rarely()
    for other in copied:
        other.close()
    os.dup2(2, 1)  # what is printed is no result
    with suppress(EOFError, ConnectionError):  # whoever asked is gone
        while True:
            results.send(work(results.recv()))
