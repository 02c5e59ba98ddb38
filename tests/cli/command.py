"""Runs the command in this process, as a shell would, and keeps what it said."""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from groove.cli.main import main


@dataclass(frozen=True)
class Said:
    """Exit code, standard output, standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> list[dict[str, Any]]:
        """The JSON objects on standard output, one a line."""
        return [json.loads(line) for line in self.out.splitlines()]


class Command:
    """Runs ``groove`` with arguments in a folder."""

    def __init__(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self.folder = folder
        self.monkeypatch = monkeypatch
        self.capsys = capsys

    def __call__(self, *arguments: str) -> Said:
        self.monkeypatch.chdir(self.folder)
        self.monkeypatch.setattr(sys, "argv", ["groove", *arguments])
        code = 0
        try:
            main()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
        captured = self.capsys.readouterr()
        return Said(code, captured.out, captured.err)

    def write(self, name: str, text: str) -> Path:
        """Write a file in the folder."""
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return path

    def files(self) -> set[str]:
        """The names of all files under the folder."""
        return {
            str(path.relative_to(self.folder)) for path in self.folder.rglob("*") if path.is_file()
        }
