"""The README's three pictures: ``python -m tests.pictures`` makes them again.

The part is what the README's own command writes; the page is what a browser shows of the README's
song, on a screen as wide as a phone's; the take is a made one.
"""

import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.conftest import ROOT
from tests.page.conftest import CHROMIUM, FLAGS
from tests.take.midi_takes import midi_take, readme_move

FOLDER = ROOT / "pictures"
PART_OPTIONS = ("--bars", "1-4", "--size", "phone", "-o", "part.png")
PHONE = {"width": 390, "height": 700}


def readme_song() -> str:
    """Return the song of ten lines."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(r"^```chart\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    assert found
    return found[1]


def write_readme_take(part: Path) -> None:
    """Write the take that the README tells of beside the bass part that it was played from."""
    take = midi_take(part.read_bytes(), readme_move, lead_sec=2.0)
    (part.parent / "take.mid").write_bytes(take)


def make_files(folder: Path, run: Callable[[Sequence[str]], object]) -> None:
    """Make what the pictures show in a folder, by calls of groove with these words in it."""
    (folder / "pear-ladder.txt").write_text(readme_song(), encoding="utf-8")
    run(("sheet", "pear-ladder.txt", *PART_OPTIONS))
    run(("page", "pear-ladder.txt", "-o", "page.html"))
    run(("render", "pear-ladder.txt", "-o", "part.mid", "--only", "bass"))
    write_readme_take(folder / "part.mid")
    run(("take", "pear-ladder.txt", "take.mid", "-o", "take.png"))


def pictures_of(folder: Path) -> tuple[Path, Path, Path]:
    """Return the pictures of the part, the page and the take, the page's taken in a browser."""
    picture = folder / "page.png"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = browser.new_page(viewport=PHONE)  # type: ignore[arg-type]
        page.goto((folder / "page.html").as_uri())
        page.wait_for_selector("body[data-ready] #sheet figure")
        page.screenshot(path=picture)
        browser.close()
    return folder / "part.png", picture, folder / "take.png"


def main() -> None:
    """Make the pictures again."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)

        def run(words: Sequence[str]) -> None:
            command = [sys.executable, "-m", "groove", *words]
            subprocess.run(command, cwd=folder, check=True, capture_output=True)

        make_files(folder, run)
        for made in pictures_of(folder):
            (FOLDER / made.name).write_bytes(made.read_bytes())


if __name__ == "__main__":
    main()
