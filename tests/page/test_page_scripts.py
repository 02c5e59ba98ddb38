"""The scripts of the page: node's own runner tests the pure parts, tsc checks the types of all."""

import re
import subprocess
from pathlib import Path

from tests.conftest import ROOT

STRICT = ("--checkJs", "--allowJs", "--noEmit", "--strict", "--target", "es2022")
KNOWN = ("--lib", "es2023,dom,dom.iterable", "--module", "esnext", "--moduleResolution", "bundler")


def test_clock_loop_and_ladder_pass_under_node() -> None:
    ran = subprocess.run(
        ["node", "--test", "tests/page/timing.test.js"], cwd=ROOT, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout
    assert re.search(r"^# pass 10$", ran.stdout, re.MULTILINE)


def checked(tools: Path, file: Path) -> subprocess.CompletedProcess[str]:
    """Return what the type checker says of a module and of what it imports."""
    command = ["node", str(tools / "typescript" / "bin" / "tsc"), *STRICT, *KNOWN, str(file)]
    return subprocess.run(command, capture_output=True, text=True)


def test_the_types_hold(npm_tools: Path, tmp_path: Path) -> None:
    found = checked(npm_tools, ROOT / "groove" / "page" / "page.js")
    assert found.returncode == 0, found.stdout
    planted = tmp_path / "planted.js"
    planted.write_text("/** @type {number} */\nexport const bars = 'four';\n", encoding="utf-8")
    assert "TS2322" in checked(npm_tools, planted).stdout
