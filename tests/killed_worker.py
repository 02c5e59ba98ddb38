"""Work for a crew, one piece of which kills its worker."""

import os
import signal


def square(number: int) -> str:
    """Return a square; over a 3 the process dies."""
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return str(number * number)


def lost(number: int, code: int) -> str:
    """Return what stands for a piece that was lost."""
    return f"lost({number},{code})"
