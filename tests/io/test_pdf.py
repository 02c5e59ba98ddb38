"""PDF through typst: a file by the standard's first and last words, the same bytes, its limits.

A PDF begins with ``%PDF-`` and ends with ``%%EOF`` (ISO 32000-1, 7.5.2 and 7.5.5).
"""

import subprocess
import sys

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
