"""PDF through typst: a file by the standard's first and last words, the same bytes, its limits.

A PDF begins with ``%PDF-`` and ends with ``%%EOF`` (ISO 32000-1, 7.5.2 and 7.5.5).
"""

import io
import os
import re
import subprocess
import sys
from datetime import UTC, datetime

import pypdf
import pytest

from groove.errors import OptionError, OutputError
from groove.io.pdf import DATE, pdf_bytes

SQUARE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">'
    b'<rect width="9" height="9"/></svg>'
)


def test_a_page_with_a_picture_is_a_pdf_and_the_same_twice() -> None:
    source = '= F♯ and B♭\n#image("pictures/square.svg")'
    first = pdf_bytes(source, {"pictures/square.svg": SQUARE})
    assert first.startswith(b"%PDF-")
    assert first.rstrip().endswith(b"%%EOF")
    assert first == pdf_bytes(source, {"pictures/square.svg": SQUARE})


def test_a_page_sees_only_its_own_files() -> None:
    with pytest.raises(OutputError, match="cannot set the page"):
        pdf_bytes('#read("../../../../etc/hostname")')
    with pytest.raises(ValueError, match="outside"):
        pdf_bytes("a", {"../escaped.svg": SQUARE})


def test_a_page_that_cannot_be_set_is_refused() -> None:
    with pytest.raises(OutputError, match="unclosed"):
        pdf_bytes("#foo(")


def test_without_typst_the_error_names_the_command() -> None:
    code = (
        "import sys; sys.modules['typst'] = None\n"
        "from groove.io.pdf import pdf_bytes\n"
        "from groove.errors import OutputError\n"
        "try:\n    pdf_bytes('a')\nexcept OutputError as error:\n    print(error.hint)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "pip install typst"


def told(pdf: bytes) -> pypdf.DocumentInformation:
    """Return what a PDF says of itself (ISO 32000-1, 14.3.3)."""
    found = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    assert found is not None
    return found


def test_the_date_is_the_one_that_is_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the variable: reproducible-builds.org/specs/source-date-epoch; malformed is an error."""
    monkeypatch.setenv(DATE, "1700000000")
    dated = told(pdf_bytes("a"))
    assert dated.creation_date == datetime(2023, 11, 14, 22, 13, 20, tzinfo=UTC)
    assert dated.author == "groove"
    monkeypatch.delenv(DATE)
    undated = told(pdf_bytes("a"))
    assert undated.creation_date is None and undated.modification_date is None
    for wrong in ("soon", "1e9", "99999999999999999"):
        monkeypatch.setenv(DATE, wrong)
        with pytest.raises(OptionError, match="states no date"):
            pdf_bytes("a")


MANY_PAGES = """
from groove.io.engrave import sheet_pdf
from groove.io.library import load_library
from groove.chart.parse import parse_chart
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.options import SheetOptions, Size
bars = "| D | A/C# | Bm7 | G |\\n" * 16
song = parse_chart(f"title: Pages\\nkey: D\\nfeel: long notes\\nverse:\\n{bars}")
played = perform_song(song, load_library(), PerformOptions(tight=True))
pdf = sheet_pdf(played, song, SheetOptions(size=Size.STAND, written_out=True))
"""


def test_a_sheet_of_many_pages_is_the_same_in_two_processes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Sixteen lines of four bars: each begins with its bar's number, but the first (Gould 2011)."""
    monkeypatch.delenv(DATE, raising=False)
    here: dict[str, bytes] = {}
    exec(MANY_PAGES, here)
    # This process hashes by another seed.
    seed = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    there = subprocess.run(
        [sys.executable, "-c", f"{MANY_PAGES}import sys\nsys.stdout.buffer.write(pdf)"],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONHASHSEED": seed},
    ).stdout
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(there)).pages]
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert page.splitlines()[-1] == f"page {number} of {len(pages)}"
    numbers = re.findall(r"^(\d+) D A/C♯ Bm7 G$", "\n".join(pages), re.MULTILINE)
    assert [int(number) for number in numbers] == list(range(5, 65, 4))
    assert here["pdf"] == there
