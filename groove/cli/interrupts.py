"""What happens when a process is told to stop: by Ctrl-C, by another process, by its terminal.

An exception would not do.  It strikes wherever the process happens to be, and inside a callback
from a library in C, such as the one that takes an encoder's bytes, it is lost: the file would be
damaged and the process go on.  So everything that is not finished is removed on the spot, and the
process ends.  Files are replaced in one step (``groove.io.files``): each is the old or the new one.

Small, for it is loaded before everything else: a command may be stopped while it starts.
"""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType

from groove.io.unfinished import remove_unfinished

STOPPED = 128
"""What a shell adds to a signal's number to make an exit code."""
STOPPED_LINE = b"stopped; every file is whole, as it was or as new\n"
_STANDARD_ERROR = 2
STOPPING = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
"""Ctrl-C, ``kill`` and a closed terminal; not every system has the last."""

_last_acts: list[Callable[[], object]] = []
_notice_stream = [_STANDARD_ERROR]
"""Where the last line goes: a copy, for libraries in C are hushed by closing the stream itself."""


def stop_cleanly() -> None:
    """From now on end at once when told to, and leave nothing half-written.

    A signal that is ignored stays so: ``nohup`` asks for that.
    """
    _handle_stops(_stop)


def work_for_another() -> None:
    """From now on do work for the process that made this one, which tells it when to end.

    Ctrl-C comes to that process alone; what it does before it ends is none of ours.
    """
    if hasattr(os, "setsid"):
        os.setsid()
    _last_acts.clear()
    _handle_stops(_stop_silently)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPPING)


@contextmanager
def stops_held() -> Iterator[None]:
    """Have a stop wait while a process is made: a copy of this one would tell of it too."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, STOPPING)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def keep_last_line() -> None:
    """Have the last line heard while a library is hushed; all standard streams are open."""
    with suppress(OSError):
        _notice_stream[0] = os.dup(_STANDARD_ERROR)


def before_stopping(act: Callable[[], object]) -> None:
    """Do something more before the process ends: stop other processes, mend the terminal."""
    _last_acts.append(act)


def ignore_stops() -> None:
    """From now on go on to the end: all is written, or is being tidied up."""
    for number in STOPPING:
        signal.signal(number, signal.SIG_IGN)


def _stop_silently(number: int, _frame: FrameType | None) -> None:
    """Leave nothing half-written and end, as a process that works for another one."""
    ignore_stops()
    for act in _last_acts:
        act()
    remove_unfinished()
    os._exit(STOPPED + number)


def _handle_stops(handler: Callable[[int, FrameType | None], object]) -> None:
    for number in STOPPING:
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, handler)


def _stop(number: int, frame: FrameType | None) -> None:
    _last_acts.append(_say_stopped)
    _stop_silently(number, frame)


def _say_stopped() -> None:
    try:
        os.write(_notice_stream[0], STOPPED_LINE)
    except OSError:
        return  # nobody reads it
