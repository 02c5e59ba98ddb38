"""Jumps in MusicXML: what sounds and words say of D.C., D.S., Segno, Coda and Fine.

Attributes of ``sound`` are those of MusicXML 4.0; words are read where they say nothing else.
"""

import re
from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element

from msgspec.structs import replace

from groove.io.playing import ScoreJump, Signs, Until

JUMP = re.compile(
    r"(?:(?P<capo>d\. ?c\.?|dc|da capo)|d\. ?s\.?|ds|d\.?𝄋|dal segno|del segno)"
    r"(?:.*\b(?P<until>fine|coda)\b.*)?\.?"
)
TO_CODA = re.compile(r"to (?:the )?coda\b.*|al coda|alla coda")
FINE = re.compile(r"(?:al )?fine\.?")
CODA = re.compile(r"coda\.?")
SEGNO = re.compile(r"segno\.?")
LONGEST_WORDS = 60


def read_signs(direction: Element, signs: Signs) -> None:
    """Read a direction into the signs of its bar."""
    texts = [_plain(element.text) for element in direction.iter("words")]
    leads_away = any(TO_CODA.fullmatch(text) for text in texts)
    for element in direction.iter("sound"):
        read_sound(element, signs)
    if direction.find("direction-type/segno") is not None and signs.segno is None:
        signs.segno = ""
    if direction.find("direction-type/coda") is not None and signs.to_coda is None:
        if leads_away:
            signs.to_coda = ""
        elif signs.coda is None:
            signs.coda = ""
    for text in texts:
        _read_words(text, signs)


def read_sound(element: Element, signs: Signs) -> None:
    """Read what a ``sound`` says of jumps."""
    signs.segno = element.get("segno", signs.segno)
    signs.coda = element.get("coda", signs.coda)
    signs.to_coda = element.get("tocoda", signs.to_coda)
    signs.fine = signs.fine or element.get("fine", "no") != "no"
    if signs.jump is None and element.get("dacapo") == "yes":
        signs.jump = ScoreJump(None)
    elif signs.jump is None and element.get("dalsegno") is not None:
        signs.jump = ScoreJump(element.get("dalsegno"))


def _plain(text: str | None) -> str:
    return " ".join((text or "").split()).casefold()


def _read_words(text: str, signs: Signs) -> None:
    if not text or len(text) > LONGEST_WORDS:
        return
    if match := JUMP.fullmatch(text):
        until = Until(match["until"] or "end")
        jump = signs.jump or ScoreJump(None if match["capo"] else "")
        signs.jump = replace(jump, until=until)
    elif TO_CODA.fullmatch(text):
        signs.to_coda = signs.to_coda or ""
    elif FINE.fullmatch(text):
        signs.fine = True
    elif SEGNO.fullmatch(text) and signs.segno is None:
        signs.segno = ""
    elif CODA.fullmatch(text) and signs.coda is None and signs.to_coda is None:
        signs.coda = ""


def settle_codas(bars: Sequence[Signs]) -> None:
    """Take the first of two coda signs as the place to leave, where nothing else says it."""
    jumps = [signs.jump for signs in bars if signs.jump]
    if any(signs.to_coda is not None for signs in bars) or not jumps:
        return
    marked = [signs for signs in bars if signs.coda is not None]
    if len(marked) > 1:
        marked[0].to_coda, marked[0].coda = marked[0].coda, None


def settle_repeats(measures: Iterable[Element], bars: Sequence[Signs]) -> None:
    """Let repeats be played again after a jump where a file says ``after-jump``."""
    taken = any(
        element.get("after-jump") == "yes"
        for measure in measures
        for element in measure.iterfind("barline/repeat")
    )
    for signs in bars:
        if taken and signs.jump:
            signs.jump = replace(signs.jump, takes_repeats=True)
