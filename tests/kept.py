"""What is dear and the same for all processes of a run of the tests is made by one of them."""

import pickle
from collections.abc import Callable
from contextlib import AbstractContextManager
from hashlib import sha256
from pathlib import Path
from typing import TypeVar

RunFolder = Callable[[str], AbstractContextManager[Path]]
"""Opens a folder of a name that all processes of a run of the tests share, one at a time."""
Made = TypeVar("Made")
run_folders: list[RunFolder] = []
"""What opens the folders of this run, once a test has begun; outside of a run nothing is kept."""


def kept(key: object, make: Callable[[], Made]) -> Made:
    """Return what was made in this run under a key that prints alike; make it where it was not."""
    if not run_folders:
        return make()
    with run_folders[0](f"kept-{sha256(repr(key).encode()).hexdigest()[:24]}") as folder:
        file = folder / "made"
        if not file.exists():
            file.write_bytes(pickle.dumps(make()))
        made: Made = pickle.loads(file.read_bytes())
        return made
