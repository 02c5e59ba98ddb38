"""What the band plays on the example charts stays what it was, on every hash seed and Python.

The goldens are our own output: they show a change, they do not judge it.  Written anew by
``pytest tests/test_golden.py --update-golden``.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.golden_notes import goldens, main

GOLDEN = ROOT / "tests" / "golden"


def test_goldens_are_as_committed(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--update-golden"):
        main(GOLDEN)
    found = goldens()
    committed = {path.name: path.read_text(encoding="utf-8") for path in GOLDEN.iterdir()}
    assert set(found) == set(committed)
    assert len(found) == 9
    for name, text in found.items():
        assert text == committed[name], f"{name} differs; --update-golden writes it anew"


def other_pythons() -> list[str]:
    """Return other interpreters of this machine that have what groove needs."""
    names = [shutil.which(f"python3.{minor}") for minor in (11, 12, 13, 14)]
    return [
        name
        for name in names
        if name
        and Path(name).resolve() != Path(sys.executable).resolve()
        and subprocess.run([name, "-c", "import mido"], capture_output=True).returncode == 0
    ]


@pytest.mark.parametrize("hash_seed", ["1"])
def test_goldens_do_not_depend_on_the_hash_seed(tmp_path: Path, hash_seed: str) -> None:
    """In other processes; the one above has a seed at random, as every process of the tests."""
    compared = 0
    for number, python in enumerate([sys.executable, *other_pythons()]):
        folder = tmp_path / str(number)
        environment = os.environ | {"PYTHONHASHSEED": hash_seed}
        command = [python, "-m", "tests.golden_notes", str(folder)]
        subprocess.run(command, check=True, cwd=ROOT, env=environment)
        print(f"{python} with PYTHONHASHSEED={hash_seed}")
        made = {path.name: path.read_bytes() for path in folder.iterdir()}
        assert made == {path.name: path.read_bytes() for path in GOLDEN.iterdir()}
        compared += len(made)
    assert compared >= 9
