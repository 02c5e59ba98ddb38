"""Words in brackets at a bar's head, in one table: what each is called and what it says."""

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache

from msgspec import Struct

from groove.bar_place import BandWord
from groove.chart.line_marks import Token
from groove.chart.model import BeatPoint, Density, Directions, Jump, Loudness, Named, Swell
from groove.errors import ChartError, nearest_hint
from groove.timing import Meter

MOST_TAGS = 9
POINTS = r"[1-9][0-9]?\+?(?:\s+[1-9][0-9]?\+?)*"


class Word(Struct, frozen=True, kw_only=True):
    """A row of the table: words of one ``kind`` exclude each other in a bar.

    ``pattern`` is matched against the word in small letters, ``read`` makes fields of
    ``Directions`` of what it found.
    """

    kind: str
    pattern: str
    example: str
    read: Callable[[re.Match[str]], Mapping[str, object]]


def points(text: str) -> tuple[BeatPoint, ...]:
    """Return the places of beats in a text, ``1 2+``, in order, each once."""
    found = {BeatPoint(int(part.rstrip("+")), part.endswith("+")) for part in text.split()}
    return tuple(sorted(found, key=lambda point: (point.beat, point.is_off)))


def _jump_pattern(jump: Jump) -> str:
    """Return the pattern of a jump: points and their spaces may be left out."""
    return re.escape(jump.casefold()).replace(r"\.", r"\.?\s*").replace(r"\ ", r"\s+")


WORDS = (
    *(
        Word(kind="stop", pattern=word.value, example=word.value, read=lambda m: {})
        for word in BandWord
    ),
    Word(
        kind="stop",
        pattern=rf"hits\s+({POINTS})",
        example="hits 1 2+ 4+",
        read=lambda m: {"hits": points(m[1])},
    ),
    Word(
        kind="stop",
        pattern=rf"kicks\s+({POINTS})",
        example="kicks 2+",
        read=lambda m: {"kicks": points(m[1])},
    ),
    Word(kind="fill", pattern="fill", example="fill", read=lambda m: {"fill": True}),
    Word(kind="fill", pattern=r"no\s+fill", example="no fill", read=lambda m: {"fill": False}),
    *(
        Word(
            kind="dynamic",
            pattern=level.value,
            example=level.value,
            read=lambda m: {"dynamic": Loudness(m[0])},
        )
        for level in Loudness
    ),
    Word(
        kind="swell",
        pattern=r"(cresc|dim)(?:\.|endo|inuendo)?",
        example="cresc",
        read=lambda m: {"swell": Swell(m[1])},
    ),
    Word(
        kind="density",
        pattern="thin|build",
        example="build",
        read=lambda m: {"density": Density(m[0])},
    ),
    Word(kind="feel", pattern=r"feel\s+(.+)", example="feel shuffle", read=lambda m: {}),
    Word(
        kind="ritard",
        pattern=r"rit\.?|ritard(?:ando|\.)?",
        example="ritard",
        read=lambda m: {"has_ritard": True},
    ),
    Word(
        kind="tag",
        pattern=r"tag\s*[x×]\s?([0-9]{1,4})",
        example="tag x3",
        read=lambda m: {"tag": int(m[1])},
    ),
    Word(kind="hit", pattern="hit", example="hit", read=lambda m: {"has_hit": True}),
    Word(kind="segno", pattern="segno", example="segno", read=lambda m: {"has_segno": True}),
    Word(kind="coda", pattern="coda", example="coda", read=lambda m: {"has_coda": True}),
    *(
        Word(
            kind="jump",
            pattern=_jump_pattern(jump),
            example=jump.value,
            read=lambda m, jump=jump: {"jump": jump},  # type: ignore[misc]
        )
        for jump in Jump
    ),
)
"""All words but a meter."""


@cache
def _compiled() -> tuple[tuple[Word, re.Pattern[str]], ...]:
    """Return all words with their patterns, made where a chart has a word at all."""
    return tuple((word, re.compile(word.pattern)) for word in WORDS)


def find_word(inside: str) -> tuple[Word, re.Match[str]] | None:
    """Return the row of a word and what it matched, None where there is none."""
    folded = " ".join(inside.casefold().split())
    found = ((word, pattern.fullmatch(folded)) for word, pattern in _compiled())
    return next(((word, match) for word, match in found if match), None)


def read_fields(
    word: Word, match: re.Match[str], token: Token, inside: str, meter: Meter
) -> Mapping[str, object]:
    """Return what a word says, as fields of ``Directions``.  Raises ChartError out of range."""
    if word.kind == "feel":
        name = " ".join(inside.split()[1:])
        return {"feel": Named(name=name, place=token.place)}
    fields = word.read(match)
    for name in ("hits", "kicks"):
        found = fields.get(name, ())
        assert isinstance(found, tuple)
        if found and found[-1].beat > meter.beats_per_bar:
            raise ChartError(
                f"found beat {found[-1].beat} in a bar of {meter}",
                place=token.place,
                hint=f"expected beats from 1 to {meter.beats_per_bar}, 2+ for the eighth after 2",
            )
    tag = fields.get("tag", 2)
    assert isinstance(tag, int)
    if not 2 <= tag <= MOST_TAGS:
        hint = f"expected (tag x2) to (tag x{MOST_TAGS}): how often in all"
        raise ChartError(f"cannot play the end {tag} times", place=token.place, hint=hint)
    return fields


_MEANT = {"loud": "f", "soft": "p", "quiet": "p", "louder": "cresc", "softer": "dim"}
"""Words of everyday language, and the band's word for each."""


def unknown_word(token: Token, inside: str) -> ChartError:
    """Return the error for a word to the band that there is not."""
    examples = [word.example for word in WORDS]
    meant = _MEANT.get(" ".join(inside.casefold().split()))
    near = f"nearest: {meant}" if meant else nearest_hint(inside[:30], examples)
    shown = "(hold), (stop), (hits 1 2+), (fill), (p), (cresc), (build), (feel shuffle)"
    return ChartError(
        f"no such word to the band: {token.shown!r}",
        place=token.place,
        hint=(f"{near}; " if near else "") + f"expected {shown}, (ritard), (D.S. al coda) … "
        "or a meter as (3/4)",
    )


def direction_words(directions: Directions) -> Iterator[str]:
    """Yield the words of a bar as a chart has them, without their brackets."""
    fill = {None: "", True: "fill", False: "no fill"}[directions.fill]
    texts = (
        "hits " + " ".join(map(str, directions.hits)) if directions.hits else "",
        "kicks " + " ".join(map(str, directions.kicks)) if directions.kicks else "",
        fill,
        directions.dynamic or "",
        directions.swell or "",
        directions.density or "",
        f"feel {directions.feel.name}" if directions.feel else "",
        "ritard" if directions.has_ritard else "",
        f"tag x{directions.tag}" if directions.tag else "",
        "hit" if directions.has_hit else "",
        "segno" if directions.has_segno else "",
        "coda" if directions.has_coda else "",
        directions.jump or "",
    )
    yield from filter(None, texts)
