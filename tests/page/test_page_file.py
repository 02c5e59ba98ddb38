"""The file of the page, read without a browser."""

import base64
import gzip
import hashlib
import io
import json
import math
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import soundfile
from lxml import etree, html  # type: ignore[import-untyped]

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.mixing import PART_MIX
from groove.pipeline import perform_song
from tests.conftest import ROOT
from tests.page.conftest import ROW_BEGINS, Made

CHART = (ROOT / "shared" / "charts" / "lantern-row.txt").read_text(encoding="utf-8")
HOSTILE = """title: </title></script><script>window.ran = 1</script><img src=x onerror="ran=1">
# </script><script>window.ran = 1</script>
<img src=x onerror='window.ran=1'>{card}{glyphs}:
| D | G | A7 | D |
"""


class Blocks:
    """The data blocks of a page."""

    def __init__(self, path: Path) -> None:
        self.text = path.read_text(encoding="utf-8")
        self.tree = html.document_fromstring(self.text)

    def block(self, name: str) -> str:
        """The text of one block."""
        (found,) = self.tree.xpath(f"//script[@id='{name}']")
        return str(found.text)

    @property
    def data(self) -> dict[str, Any]:
        """The JSON of the page."""
        found: dict[str, Any] = json.loads(self.block("data"))
        return found

    def drawings(self, name: str) -> list[str]:
        """The lines of one sheet."""
        return gzip.decompress(base64.b64decode(self.block(f"sheet-{name}"))).decode().split("\0")


@pytest.fixture(scope="module")
def performance(library: Library) -> Performance:
    """The performance of the shipped song."""
    return perform_song(parse_chart(CHART), library)


@pytest.fixture(scope="module")
def row(listened_row: Path) -> Blocks:
    """The blocks of its page."""
    return Blocks(listened_row)


def lean(part: Part) -> float:
    """Return left less right as shares of their mean, of a mono sound panned with equal power."""
    angle = (PART_MIX[part].pan - 1) / 126 * math.pi / 2
    left, right = math.cos(angle), math.sin(angle)
    return 2 * (left - right) / (left + right)


def test_a_long_song_fits_in_two_and_a_half_megabytes(
    listened_row: Path, performance: Performance
) -> None:
    assert performance.length_sec > 240
    # The page is in one key: of each of twelve others a note has four short numbers.
    others = 12 * len("[-12,4,12,4],") * len(performance.part_notes(Part.BASS))
    assert 500_000 < listened_row.stat().st_size <= 2_500_000 - others


def test_every_note_is_in_the_data_at_its_tick(row: Blocks, performance: Performance) -> None:
    data = row.data
    compared = 0
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        found = Counter((row[0] + row[1], row[3], row[4]) for row in data[part])
        notes = performance.part_notes(part)
        assert found == Counter((n.onset_tick, n.pitch, n.velocity) for n in notes)
        compared += len(notes)
    assert compared == len(performance.notes) > 3000


def test_every_note_has_a_sound_of_its_pitch_that_lasts(
    row: Blocks, performance: Performance
) -> None:
    sounds = row.data["sounds"]
    wanted = {(note.part.value, note.pitch) for note in performance.notes}
    had = {(part, row[0]) for part, told in sounds.items() for row in told["samples"]}
    assert wanted <= had
    assert len(wanted) > 30


@pytest.mark.parametrize("without_library", [False, True])
def test_the_marker_and_the_attacks_lie_where_the_data_says(
    make_page: Made, row_begins: Path, without_library: bool
) -> None:
    # libsndfile takes off the coder's delay by the tag in the first frame; the font's attack is a
    # step, so an attack is where the first tenth of full scale is passed.
    with_library = make_page("row-begins-by-library", ROW_BEGINS, moves=(0,))
    blocks = Blocks(row_begins if without_library else with_library)
    compared = 0
    for part, told in blocks.data["sounds"].items():
        raw = base64.b64decode(blocks.block(f"sound-{part}"))
        samples, rate = soundfile.read(io.BytesIO(raw))
        assert rate == (48_000 if without_library else 44_100)  # the fallback knows one rate
        head = abs(samples[: int(0.08 * rate)])
        assert abs(head.argmax() / rate - 0.02) < 0.0003
        ends = 0.02
        for _, velocity, offset, length, left, right in told["samples"]:
            assert 1 <= velocity <= 127
            assert ends < offset < (ends := offset + length) <= len(samples) / rate
            # The font's sounds are mono, the sides a level apart: the keys lean to the left.
            assert left + right == pytest.approx(2, abs=0.02)
            assert left - right == pytest.approx(lean(Part(part)), abs=0.04)
            first = int((offset - 0.005) * rate)
            piece = abs(samples[first : first + int(0.015 * rate)])
            attack = (piece > 0.3 * piece.max()).argmax() / rate + first / rate
            assert abs(attack - offset) < 0.001
            compared += 1
    assert compared > 20


def test_both_sheets_draw_every_bar_and_every_bass_note(
    row: Blocks, performance: Performance
) -> None:
    bass = len(performance.part_notes(Part.BASS))
    for name in ("wide", "narrow"):
        lines = [etree.fromstring(text) for text in row.drawings(name)]
        bars = [int(x) for line in lines for x in line.xpath("//@data-bar")]
        notes = Counter(int(x) for line in lines for x in line.xpath("//@data-note"))
        assert bars == list(range(len(performance.bars)))
        # Once on the staff and once on the tab, more often where a note is tied.
        assert sorted(notes) == list(range(bass))
        assert min(notes.values()) >= 2


def test_the_policy_names_the_one_script_and_the_one_style(row: Blocks) -> None:
    tree = row.tree
    (policy,) = tree.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    (script,) = tree.xpath("//script[@type='module']")
    (style,) = tree.xpath("//style")
    for kind, element in (("script-src", script), ("style-src", style)):
        digest = base64.b64encode(hashlib.sha256(element.text.encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy and "http" not in policy


def test_what_a_chart_says_never_becomes_an_element(make_page: Made, row: Blocks) -> None:
    tree = Blocks(make_page("hostile", HOSTILE, in_one_key=True)).tree
    plain = row.tree
    assert tree.xpath("//img") == [] and tree.xpath("//@onerror") == []
    assert len(tree.xpath("//script")) == len(plain.xpath("//script"))
    assert "<img src=x" in tree.xpath("//h1")[0].text_content()


def test_the_same_chart_makes_the_same_page(make_page: Made) -> None:
    text = "title: Twice\nverse:\n| D | G |\n"
    first, second = make_page("twice", text), make_page("twice-again", text)
    assert first.read_bytes() == second.read_bytes()
    assert not re.search(r"https?://(?!www\.w3\.org)", first.read_text(encoding="utf-8"))
