"""What all tests share: the example charts, the shipped library, and how Hypothesis runs."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from groove.cells.model import Library
from groove.io.library import load_library
from tests.cli.command import Command

ROOT = Path(__file__).resolve().parents[1]

settings.register_profile(
    "ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("dev", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "dev")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the one option that writes the goldens anew."""
    parser.addoption("--update-golden", action="store_true", help="write the golden files anew")


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def shared_dir() -> Path:
    """Example charts and reference tables."""
    return ROOT / "shared"


@pytest.fixture(scope="session")
def library() -> Library:
    """The shipped cells and feels."""
    return load_library()


@pytest.fixture
def groove(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """Run ``groove`` in an empty folder, away from the developer's own settings."""
    monkeypatch.delenv("GROOVE_SOUNDFONT", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no-config"))
    return Command(tmp_path, monkeypatch, capsys)
