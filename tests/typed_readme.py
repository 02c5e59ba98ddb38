"""The README's Python is typed as a player checks it: ``python -m tests.typed_readme``.

``.ci/run`` asks it after mypy's run over the project, whose cache makes it four times as fast; a
copy of it, for a player has none of our settings and lies away from our sources.
"""

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.readme import README, examples

SLIPS = {
    "groove.perfrom_song(song)\n": "has no attribute",
    "band.part_notes(groove.Part.BASS)[0].pitch.upper()\n": '"int" has no attribute "upper"',
    "groove.midi_bytes(band, parts={5})\n": "incompatible type",
    "sheet.pdf().encode()\n": '"bytes" has no attribute "encode"',
    "groove.PerformOptions(tempo=5)\n": "Unexpected keyword argument",
}
"""Each is found, by these words: the types are ours, not "anything goes"."""


def told_of(folder: Path, **programs: str) -> list[str]:
    """Return what mypy says of a player's programs, in order, the count of errors last."""
    for name, code in programs.items():
        (folder / f"{name}.py").write_text(code, encoding="utf-8")
    known = README.parent / ".mypy_cache"
    if known.exists():
        shutil.copytree(known, folder / known.name)
    command = [sys.executable, "-m", "mypy", "--strict", "--config-file="]
    files = [f"{name}.py" for name in programs]
    said = subprocess.run([*command, *files], cwd=folder, capture_output=True, text=True)
    return [line for line in said.stdout.splitlines() if ": error: " in line or "Found" in line]


def main() -> None:
    """Fail where an example does not type, or a slip does."""
    code = "".join(text for text, _ in examples())
    with TemporaryDirectory() as folder:
        *told, count = told_of(Path(folder), mine=code, slips=code + "".join(SLIPS)) or [""]
    assert count == "Found 5 errors in 1 file (checked 2 source files)", (told, count)
    for found, wanted in zip(told, SLIPS.values(), strict=True):
        assert found.startswith("slips.py:") and wanted in found, found


if __name__ == "__main__":
    main()
