"""What all tests share: the example charts, the shipped library, and how Hypothesis runs."""

import fcntl
import gc
import os
import signal
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers

from groove.cells.model import Library
from groove.cli.threads import compute_alone
from groove.io.library import load_library
from tests import kept
from tests.cli.command import Command
from tests.kept import RunFolder

ROOT = Path(__file__).resolve().parents[1]

# The processes of a run of the tests have the cores: before a test loads numpy.
compute_alone()

# A run in the background, or under nohup, inherits that these are ignored, and so would the
# commands that tests stop.
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)

# In CI every run draws the same examples: more of them would find nothing new from run to run.
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("dev", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "dev")
if os.environ.get("CI"):
    # Nor do examples depend on which modules are loaded: Hypothesis would parse all of ours for
    # their constants, for four seconds in every process of a fresh clone.
    providers.is_local_module_file = lambda path: False  # type: ignore[attr-defined,assignment]


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the one option that writes the goldens anew."""
    parser.addoption("--update-golden", action="store_true", help="write the golden files anew")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Collect without the collector: nearly all that is made then stays.

    It took a quarter of the time, in every process that runs tests.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()


def pytest_collection_finish() -> None:
    """Keep the collector from what stays: the modules of all tests, and all tests.

    Looked through after every few hundred new values, they took up to a quarter of a test's time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def shared_dir() -> Path:
    """Example charts and tables of outside values."""
    return ROOT / "shared"


@pytest.fixture(scope="session")
def library() -> Library:
    """The shipped cells and feels."""
    return load_library()


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    """What is dear and made once, as pages and tools from npm, is made once a run, not a process.

    The folders of pytest-xdist's workers lie beside each other in the run's own.
    """
    base = tmp_path_factory.getbasetemp()
    run = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    @contextmanager
    def opened(name: str) -> Iterator[Path]:
        folder = run / f"shared-{name}"
        folder.mkdir(exist_ok=True)
        with (run / f"shared-{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield folder

    return opened


@pytest.fixture(scope="session", autouse=True)
def keeping(run_folder: RunFolder) -> None:
    """Let ``tests.kept`` keep what it makes for the other processes of the run."""
    kept.run_folders[:] = [run_folder]


@pytest.fixture
def one_key(monkeypatch: pytest.MonkeyPatch) -> None:
    """Practice pages in the chart's own key alone, as those of very long songs are.

    The line's places in eleven others take most of a page's time (``tests/page`` judges them).
    """
    monkeypatch.setattr("groove.io.practice_page.page_moves", lambda bars: range(1))


@pytest.fixture
def no_drawings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Practice pages without engraved lines, where nobody looks at a page: half of its time."""
    monkeypatch.setattr("groove.io.practice_page._page_sheets", lambda *_: {})


@pytest.fixture
def groove(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """Run ``groove`` in an empty folder, away from the developer's own settings."""
    monkeypatch.delenv("GROOVE_SOUNDFONT", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no-config"))
    return Command(tmp_path, monkeypatch, capsys)
