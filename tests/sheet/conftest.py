"""What the tests of sheets share: drawings that are made once a run."""

import pytest

from tests.conftest import RunFolder
from tests.sheet import parts


@pytest.fixture(scope="session", autouse=True)
def drawings(run_folder: RunFolder) -> None:
    """Let ``drawn_pages`` keep what it draws for the other processes of the run."""
    parts.run_folders[:] = [run_folder]
