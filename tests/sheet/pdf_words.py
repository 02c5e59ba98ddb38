"""The words of a PDF page by page, as poppler's ``pdftotext`` reads them."""

import subprocess


def pdf_pages(pdf: bytes) -> list[str]:
    """Return the text of each page, blanks as one."""
    done = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True
    )
    pages = done.stdout.decode().split("\f")
    return [" ".join(page.split()) for page in pages if page.strip()]
