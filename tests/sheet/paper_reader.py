"""A reader of a part on paper, as a player reads it: from its MEI and the chart's form alone.

It knows repeats and endings, the signs for bars like the one and the two before, counted rests,
words like "as the first time, but:", and the sign of swing, under which eighths that are written
alike are the outer two of a triplet (Read, *Music Notation*, 1964; from memory); it imports nothing
of what it judges.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree

M = "{http://www.music-encoding.org/ns/mei}"
PITCH_CLASSES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
ALTERS = {"s": 1, "f": -1, "n": 0, "x": 2, "ff": -2}
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
Struck = tuple[Fraction, int]
"""Where in its bar a note is struck, in quarters, and its pitch as it sounds."""


@dataclass(frozen=True)
class Read:
    """A measure as read: its number, what is struck in it, its repeat signs, and its words."""

    number: int
    struck: tuple[Struck, ...] = ()
    opens: bool = False
    closes: bool = False
    ending: tuple[int, ...] = ()
    words: str = ""
    signs: tuple[str, ...] = ()


def played_bars(mei: str, form: Sequence[tuple[str, int]]) -> list[Read]:
    """Return the bars that a player plays, in order.

    ``form`` are the sections in the order played, each with the number of its bars as played.
    """
    items = list(_expanded(_jumped(list(_measures(ElementTree.fromstring(mei))))))
    times: dict[tuple[str, int], list[Read]] = {}
    order: list[tuple[str, int]] = []
    lengths = dict(form)
    for name, _ in form:
        order.append((name, 1 + sum(each == name for each, _ in order)))
    found: list[Read] = []
    for key in order:
        if key not in times:
            if items and items[0].words:
                _as_before(items.pop(0).words, items, times)
            else:
                times[key], items = items[: lengths[key[0]]], items[lengths[key[0]] :]
        found += times[key]
    assert not items, "bars are left over that nobody plays"
    return found


def _as_before(words: str, items: list[Read], times: dict[tuple[str, int], list[Read]]) -> None:
    """Take the bars that follow words out of ``items``, and add the times that the words name."""
    told = re.match(r"(.+?), ([\w, ]+ time|[\w ]+ time), (each )?as the ([\w, ]+?) time,", words)
    assert told, words
    section = told[1]
    own, like = _numbers(told[2]), _numbers(told[4])
    like = like * len(own) if told[3] else like
    assert len(own) == len(like), words
    first, last = map(int, re.findall(r"bars (\d+)–(\d+)", words)[0])
    changed: dict[int, Read] = {}
    if words.endswith("but:"):
        while items and not items[0].words and first <= items[0].number <= last:
            before = next(iter(reversed(changed)), 0)
            if items[0].number <= before:
                break
            bar = items.pop(0)
            changed[bar.number] = bar
        assert changed, words
    for mine, theirs in zip(own, like, strict=True):
        bars = times[section, theirs]
        assert {bar.number for bar in bars} >= {*changed}
        assert (bars[0].number, max(bar.number for bar in bars)) == (first, last)
        times[section, mine] = [changed.get(bar.number, bar) for bar in bars]


def _numbers(words: str) -> list[int]:
    return [ORDINALS.index(word) + 1 for word in re.findall(r"\w+", words) if word in ORDINALS]


def _measures(root: Any) -> Iterator[Read]:
    """Yield the measures as printed, signs read out."""
    before: list[Read] = []
    section = root.find(f".//{M}section")
    halves = swings = False
    for parent in section:
        label = parent.get("n", "") if parent.tag == f"{M}ending" else ""
        for element in parent.iter(f"{M}measure"):
            name = element.get("{http://www.w3.org/XML/1998/namespace}id", "")
            if name.startswith("filler"):
                continue
            rests = element.find(f".//{M}multiRest")
            swings = _swings(element, before=swings)
            first = element.find(f"{M}staff/{M}layer")
            bar = Read(
                number=int(element.get("n", "0")),
                struck=tuple(_struck(first, swings=swings)),
                opens=element.get("left") == "rptstart",
                closes=element.get("right") == "rptend",
                ending=tuple(map(int, re.findall(r"\d+", label))),
                words=element.get("label", ""),
                signs=tuple(_signs(element)),
            )
            if element.find(f".//{M}mRpt") is not None:
                bar = replace(bar, struck=before[-1].struck)
            if element.find(f".//{M}mRpt2") is not None:
                bar = replace(bar, struck=before[-2].struck)
                halves = not halves
            count = int(rests.get("num")) if rests is not None else 1
            for number in range(count):
                read = replace(bar, number=bar.number + number)
                read = replace(read, opens=bar.opens and number == 0)
                before.append(replace(read, closes=bar.closes and number == count - 1))
                yield before[-1]
    assert not halves, "a sign for two bars stands in one"


def _swings(measure: Any, *, before: bool) -> bool:
    """Return whether eighths swing from a measure on: as a sign over it says, else as before."""
    words = " ".join(text for reh in measure.iter(f"{M}reh") for text in reh.itertext())
    if "♫=3" in words or "♫=." in words:
        return True
    return before and not ("straight" in words or "♬=" in words)


def swung(at: Fraction) -> Fraction:
    """Return where an eighth is played that is written in the middle of a beat."""
    return at + Fraction(1, 6) if at % 1 == Fraction(1, 2) else at


def _struck(layer: Any, *, swings: bool) -> Iterator[Struck]:
    """Yield what is struck in a layer of MEI (5, chapters on tuplets and on durations)."""
    at = Fraction(0)

    def walk(parent: Any, share: Fraction) -> Iterator[Struck]:
        nonlocal at
        for element in parent:
            tag = element.tag.removeprefix(M)
            if tag in ("beam", "tuplet"):
                own = Fraction(int(element.get("numbase", 1)), int(element.get("num", 1)))
                yield from walk(element, share * own)
                continue
            if tag not in ("note", "rest", "space", "chord"):
                continue
            length = Fraction(4, int(element.get("dur", 4))) * share
            if element.get("dots"):
                length *= Fraction(3, 2)
            if tag == "note" and element.get("tie") not in ("m", "t"):
                is_pair = swings and share == 1
                yield (swung(at) if is_pair else at), _pitch(element)
            at += length

    yield from walk(layer, Fraction(1))


def _pitch(note: Any) -> int:
    """Return the pitch as it sounds: a bass is written an octave up."""
    alter = ALTERS[note.get("accid") or note.get("accid.ges") or "n"]
    return 12 * int(note.get("oct")) + PITCH_CLASSES[note.get("pname")] + alter


def _signs(measure: Any) -> Iterator[str]:
    """Yield the signs of jumps of a measure: those at its head, then the words at its end."""
    yield from (mark.get("func", "") for mark in measure.iter(f"{M}repeatMark"))
    words = " ".join(text for reh in measure.iter(f"{M}reh") for text in reh.itertext())
    yield from re.findall(r"To Coda|Fine\b|D\.[SC]\. al \w+", words)


def _jumped(bars: list[Read]) -> list[Read]:
    """Return printed bars with the one jump of a part followed; its bars have no repeats."""
    at = {sign: index for index, bar in enumerate(bars) for sign in bar.signs}
    back = next((sign for sign in at if sign[:2] == "D."), "")
    if not back:
        return bars
    start = at["segno"] if back.startswith("D.S.") else 0
    leave = at["To Coda" if back.endswith("Coda") else "Fine"] + 1
    again = [replace(bar, signs=()) for bar in bars[start:leave]]
    assert not any(bar.opens or bar.closes for bar in again)
    after = bars[at["coda"] :] if back.endswith("Coda") else []
    assert after == bars[at[back] + 1 :], "a coda follows the jump"
    return [*bars[: at[back] + 1], *again, *after]


def _expanded(bars: Sequence[Read]) -> Iterator[Read]:
    """Yield the bars in the order played: each repeat as often as its signs and endings say."""
    at = 0
    while at < len(bars):
        if not bars[at].opens:
            yield bars[at]
            at += 1
            continue
        stop = at
        while not bars[stop].closes:
            stop += 1
        stop += 1
        while stop < len(bars) and bars[stop].ending and not bars[stop].opens:
            stop += 1
        group = bars[at:stop]
        passes = max([2, *(number for bar in group for number in bar.ending)])
        for number in range(1, passes + 1):
            yield from (bar for bar in group if not bar.ending or number in bar.ending)
        at = stop
