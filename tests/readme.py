"""The README as its tests read it: fenced blocks, each with its language and its label."""

import re
from dataclasses import dataclass
from pathlib import Path

README = Path(__file__).resolve().parents[1] / "README.md"
FENCE = re.compile(r"^```(\w+)(?: ([\w-]+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block of the README: its language, its label, its text."""

    language: str
    label: str
    text: str


def blocks() -> list[Block]:
    """Return the blocks of the README in order."""
    found = FENCE.findall(README.read_text(encoding="utf-8"))
    return [Block(language, label, text) for language, label, text in found]


def examples() -> list[tuple[str, str | None]]:
    """Return the blocks of Python, each with the output that is shown after it."""
    every = blocks()
    return [
        (block.text, after.text if after and after.language == "text" else None)
        for block, after in zip(every, [*every[1:], None], strict=True)
        if block.language == "python"
    ]
