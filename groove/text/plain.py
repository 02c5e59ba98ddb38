"""Music's signs in the trade's plain spelling, for a terminal or a file that has letters only."""

import unicodedata
from types import MappingProxyType

PLAIN_SIGNS = MappingProxyType(
    {
        "♭": "b",
        "¹¹": "(11)",
        "¹³": "(13)",
        "⁶": "(6)",
        "⁷": "(7)",
        "⁹": "(9)",
        "♯": "#",
        "♮": "n",
        "𝄫": "bb",
        "𝄪": "x",
        "ø7": "m7b5",
        "ø9": "m7b5(9)",
        "ø": "m7b5",
        "°": "o",
        "△7": "maj7",
        "△": "maj7",
        "♩.": "dotted quarter",
        "♩": "quarter",
        "♪": "eighth",
        "𝅗𝅥": "half",
        "×": "x",
        "−": "-",
        "‐": "-",
        "–": "-",
        "—": "-",
        "─": "-",
        "│": "|",
        "║": "|",
        "├": "|",
        "└": "`",
        "→": "->",
        "·": "*",
        "•": "*",
        "…": "...",
        "‹": "<",
        "›": ">",
        "“": '"',
        "”": '"',
        "„": '"',
        "‘": "'",
        "’": "'",
        "●": "*",
        "○": "o",
        "◎": "@",
        "§": "S",
        "ß": "ss",
        "Ø": "O",
        "æ": "ae",
        "Æ": "AE",
        "œ": "oe",
        "Œ": "OE",
        "ł": "l",
        "Ł": "L",
    }
)
"""Sign → letters (common practice, no source); a row of two signs goes before a row of one."""
UNKNOWN = "?"


def plain_spelling(text: str, start: int) -> tuple[str, int]:
    """Return how the sign at a place is written in ASCII, and the place after it.

    Letters lose their accents; for what has no plain spelling stands a question mark.
    """
    if text[start] == "ø" and text[start + 1 : start + 2].isalpha():  # a name, as in a title
        return "o", start + 1
    for end in (start + 2, start + 1):
        if text[start:end] in PLAIN_SIGNS:
            return PLAIN_SIGNS[text[start:end]], min(end, len(text))
    bare = unicodedata.normalize("NFKD", text[start]).encode("ascii", "ignore").decode()
    return bare or ("" if unicodedata.combining(text[start]) else UNKNOWN), start + 1
