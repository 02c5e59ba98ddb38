"""A set of three short songs, and what of a folder that was made of it is looked at."""

from html.parser import HTMLParser
from pathlib import Path

from tests.cli.command import Command

PLUM = "title: Plum Gate\ntempo: 120\nkey: D\nverse:\n| D | G | A7 | D |\nform: verse x2\n"
FERN = "title: <Fern>\ntempo: 60\nmeter: 3/4\nkey: A\nverse:\n| A | E7 |\n"
SET = "title: Friday & more\nplum\nbreak 20\nfern.txt, tempo 90\nplum.txt, key F\nplum\n"
FAST = ("--as", "mid,card", "--jobs", "1")


def written_set(groove: Command) -> Command:
    """Write the set's charts and its list."""
    groove.write("plum.txt", PLUM)
    groove.write("fern.txt", FERN)
    groove.write("friday.txt", SET)
    return groove


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file under a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


class Links(HTMLParser):
    """Collects the links and the texts of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [str(value) for name, value in attrs if name == "href"]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)
