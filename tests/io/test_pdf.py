"""PDF through typst: a file by the standard's first and last words, the same bytes, its limits.

A PDF begins with ``%PDF-`` and ends with ``%%EOF`` (ISO 32000-1, 7.5.2 and 7.5.5).
"""

import io
import os
import subprocess
import sys

import pypdf
import pytest

from groove.errors import OutputError
from groove.io.pdf import pdf_bytes

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


MANY_PAGES = """
import sys
from groove.io.engrave import sheet_pdf
from groove.io.library import load_library
from groove.chart.parse import parse_chart
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.options import SheetOptions, Size
bars = "| D | A/C# | Bm7 | G |\\n" * 75
song = parse_chart(f"title: Pages\\nkey: D\\nfeel: long notes\\nverse:\\n{bars}")
played = perform_song(song, load_library(), PerformOptions(tight=True))
sys.stdout.buffer.write(sheet_pdf(played, song, SheetOptions(size=Size.STAND, written_out=True)))
"""


def test_a_sheet_of_many_pages_is_the_same_in_processes_years_apart() -> None:
    """The clock is told by SOURCE_DATE_EPOCH (reproducible-builds.org/specs/source-date-epoch)."""
    made = [
        subprocess.run(
            [sys.executable, "-c", MANY_PAGES],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "SOURCE_DATE_EPOCH": clock_sec},
        ).stdout
        for seed, clock_sec in (("1", "86400"), ("2", "1700000000"))
    ]
    assert len(pypdf.PdfReader(io.BytesIO(made[0])).pages) >= 8
    assert made[0] == made[1]
