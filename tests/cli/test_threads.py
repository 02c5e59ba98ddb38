"""The command begins no threads to compute, which the kernel counts in ``/proc``.

A product of two matrices of this size is shared out by every library of linear algebra that has
threads, so on a single core alone this test cannot fail.
"""

import os
import subprocess
import sys

import pytest

from groove.cli.threads import compute_alone

_PROGRAM = """
import os, sys
from groove.cli.entry import entry
sys.argv = ["groove", "--version"]
try:
    entry()
except SystemExit:
    pass
import numpy
square = numpy.ones((1000, 1000), numpy.float32)
square @ square
print(len(os.listdir("/proc/self/task")))
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel's own count is Linux's")
def test_products_are_computed_by_one_thread() -> None:
    spoken = {name: text for name, text in os.environ.items() if not name.endswith("_NUM_THREADS")}
    said = subprocess.run(
        [sys.executable, "-c", _PROGRAM], env=spoken, capture_output=True, text=True, check=True
    )
    assert said.stdout.split()[-1] == "1"


def test_who_asks_for_threads_has_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "3")
    compute_alone()
    assert os.environ["OPENBLAS_NUM_THREADS"] == "3"
