"""How many threads a library that computes may begin: none beside the one that asks."""

import os

_VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What numpy's linear algebra reads when it is loaded, by the library that it was built with."""


def compute_alone() -> None:
    """Have products of matrices made by one thread, unless the player's environment says otherwise.

    Ours are small and many: threads wait for one another longer than they compute, and wait
    without rest.  A song of five minutes beside its record took twice the processor time.
    """
    for variable in _VARIABLES:
        os.environ.setdefault(variable, "1")
