"""Standard input, output and error as they should be, whatever the process was started with."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

_STREAMS = (("stdin", os.O_WRONLY, "r"), ("stdout", os.O_RDONLY, "w"), ("stderr", os.O_RDONLY, "w"))
"""Name, how the stand-in is opened (so that it refuses every use), how Python uses it."""


def hold_standard_streams() -> None:
    """Put a stand-in that refuses every use in the place of each stream that is closed.

    Else the first file that is opened would get its number, and what is printed would go there.
    """
    for number, (name, refusing, mode) in enumerate(_STREAMS):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, refusing)  # the lowest number that is free: this one
            os.set_inheritable(number, True)
            setattr(sys, name, os.fdopen(number, mode, closefd=False))


def let_go(stream: TextIO) -> None:
    """Send what is left for a stream nowhere: Python would try once more as it ends."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


@contextmanager
def stderr_closed() -> Iterator[None]:
    """Keep libraries in C off the terminal, which write to descriptor 2 whatever they are told."""
    sys.stderr.flush()
    try:
        saved = os.dup(2)
    except OSError:  # nothing is open there
        yield
        return
    null = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, 2)
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        os.close(null)
