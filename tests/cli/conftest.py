"""The command as a fixture, away from the developer's own settings."""

from pathlib import Path

import pytest

from tests.cli.command import Command


@pytest.fixture
def groove(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """Run ``groove`` in an empty folder."""
    monkeypatch.delenv("GROOVE_SOUNDFONT", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no-config"))
    return Command(tmp_path, monkeypatch, capsys)
