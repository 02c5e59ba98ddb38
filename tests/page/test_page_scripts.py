"""The scripts of the page: node's own runner tests the pure parts, tsc checks the types of all."""

import re
import subprocess
from pathlib import Path

from tests.conftest import ROOT

STRICT = ("--checkJs", "--allowJs", "--noEmit", "--strict", "--skipLibCheck", "--target", "es2022")
KNOWN = ("--lib", "es2023,dom,dom.iterable", "--module", "esnext", "--moduleResolution", "bundler")


def test_clock_loop_and_ladder_pass_under_node() -> None:
    ran = subprocess.run(
        ["node", "--test", "tests/page/timing.test.js"], cwd=ROOT, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout
    assert re.search(r"^# pass 10$", ran.stdout, re.MULTILINE)


def test_the_types_hold(npm_tools: Path, tmp_path: Path) -> None:
    """All modules are checked, and beside them one with a fault: that alone is told of."""
    modules = sorted((ROOT / "groove" / "page").glob("*.js"))
    assert len(modules) > 10
    planted = tmp_path / "planted.js"
    planted.write_text("/** @type {number} */\nexport const bars = 'four';\n", encoding="utf-8")
    checker = str(npm_tools / "typescript" / "bin" / "tsc")
    command = ["node", checker, *STRICT, *KNOWN, *map(str, modules), str(planted)]
    found = subprocess.run(command, capture_output=True, text=True)
    assert [line.partition(": error ")[2][:6] for line in found.stdout.splitlines()] == ["TS2322"]
    assert "planted.js" in found.stdout
