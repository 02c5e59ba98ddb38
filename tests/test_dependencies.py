"""What is installed with groove is used by it, and what the tests use is named.

The names of a distribution's modules are those that it states itself (importlib.metadata).
"""

import re
import sys
import tomllib
from collections.abc import Iterable
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

from tests.conftest import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
USED_UNNAMED = {"pretty-midi": "its General MIDI font is found on the disk, without the import"}
"""What no import of ours names, and why it is installed all the same."""
IMPORT = re.compile(
    r"^ *(?:from +([\w.]+) +import\b|import +([\w.]+(?: as \w+)?(?:, *[\w.]+)*) *$)", re.M
)
"""A line that imports; parsing every file for it takes a hundred times as long."""
NOT_IMPORTED = {"ruff", "mypy", "pytest-xdist", "build", "musicxml"}
"""Tools of the development group that are run, and the schema that musicxml carries."""


def distribution(requirement: str) -> str:
    """Return the name of what a requirement asks for."""
    found = re.match(r"[\w.-]+", requirement)
    assert found
    return plain(found[0])


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


distributions = cache(packages_distributions)


def imported(folder: Path) -> set[str]:
    """Return the distributions that a folder's modules import, standard library and ours aside."""
    names: set[str] = set()
    for path in folder.rglob("*.py"):
        for from_module, modules in IMPORT.findall(path.read_text(encoding="utf-8")):
            found = [from_module] if from_module else modules.split(",")
            names |= {name.split()[0].split(".")[0] for name in found}
    known = distributions()
    own = {"groove", "tests", *sys.stdlib_module_names}
    return {plain(name) for module in names - own for name in known.get(module, [module])}


def named(requirements: Iterable[str]) -> set[str]:
    return {distribution(requirement) for requirement in requirements}


RUN_TIME = named(PROJECT["project"]["dependencies"])
OPTIONAL = {
    name
    for requirements in PROJECT["project"]["optional-dependencies"].values()
    for name in named(requirements)
}
DEVELOPMENT = named(PROJECT["dependency-groups"]["dev"])


def test_what_is_installed_is_used() -> None:
    used = imported(ROOT / "groove")
    assert len(used) >= 13
    assert used <= RUN_TIME | OPTIONAL
    assert (RUN_TIME | OPTIONAL) - used == set(USED_UNNAMED)
    assert set() == RUN_TIME & OPTIONAL


def test_what_the_tests_use_is_named() -> None:
    used = imported(ROOT / "tests")
    assert len(used) >= 15
    assert used <= RUN_TIME | DEVELOPMENT
    assert DEVELOPMENT - used == NOT_IMPORTED | (OPTIONAL - used)
    assert OPTIONAL <= DEVELOPMENT
    assert set() == RUN_TIME & DEVELOPMENT
