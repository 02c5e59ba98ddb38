"""What anything that is read may cost: no more memory than this, no longer than this."""

import resource
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

MOST_BYTES = 500_000_000
HANGS_SEC = 5.0


class HangsError(Exception):
    """Something takes the processor for longer than it may."""


@contextmanager
def bounded(most_bytes: int = MOST_BYTES, hangs_sec: float = HANGS_SEC) -> Iterator[None]:
    """Let what is done here take so much more memory, and so many seconds of the processor.

    Beyond that it ends in MemoryError (setrlimit(2), RLIMIT_AS) or HangsError (setitimer(2)).
    """
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    limits = resource.getrlimit(resource.RLIMIT_AS)
    before = signal.signal(signal.SIGPROF, _hang)
    most = pages * resource.getpagesize() + most_bytes
    resource.setrlimit(resource.RLIMIT_AS, (most, limits[1]))
    signal.setitimer(signal.ITIMER_PROF, hangs_sec)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        resource.setrlimit(resource.RLIMIT_AS, limits)
        signal.signal(signal.SIGPROF, before)


def _hang(_number: int, _frame: FrameType | None) -> None:
    raise HangsError
