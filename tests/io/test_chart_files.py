"""Files given as charts that are something else: told by how such files begin.

The heads are those of the standards: HTML (WHATWG, 13.1.1: any case), XML 1.0 (2.8), SVG 2.
"""

from pathlib import Path

import pytest

from groove.errors import OptionError
from groove.io.charts import read_song

HEADS = [
    ("<!DOCTYPE html>\n<title>Verse</title>\n", "a web page (HTML)"),
    ("\n  <!doctype HTML SYSTEM 'about:legacy-compat'>", "a web page (HTML)"),
    ('<html lang="en">\n<p>| D | A |</p>', "a web page (HTML)"),
    ('\ufeff<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise/>', "an XML file"),
    ('<svg xmlns="http://www.w3.org/2000/svg"/>', "a drawing (SVG)"),
]


@pytest.mark.parametrize("name", ["song.txt", "song.html"])
@pytest.mark.parametrize(("text", "kind"), HEADS)
def test_markup_given_as_a_chart_is_named(tmp_path: Path, name: str, text: str, kind: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(OptionError) as caught:
        read_song(str(path))
    assert caught.value.message == f"found {kind}, {path}"
    assert ".musicxml" in caught.value.hint and "plain text" in caught.value.hint


def test_a_title_may_speak_of_markup(tmp_path: Path) -> None:
    path = tmp_path / "song.txt"
    path.write_text("title: <html>\nverse:\n| D |\n", encoding="utf-8")
    assert read_song(str(path)).title == "<html>"
