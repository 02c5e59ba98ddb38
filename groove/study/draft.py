"""A draft of a chart, made of what a file plays: sections by what comes again, chords, tempo."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from msgspec import Struct

from groove.chart.blocks import BLOCK_PARTS
from groove.chart.settings import MOST_TIMES, SETTING_NAMES
from groove.study.heard_chords import FoundChord
from groove.theory.chords import build_chord
from groove.theory.keys import near_key
from groove.timing import Meter

SECTION_BARS = 8
"""How many bars make a section where a file has no markers (common practice, no source)."""
UNSURE = 0.3
"""Chords less sure than this are marked in the draft."""
_LINE_BARS = 4
_MOST_UNSURE = 16
_LONGEST_NAME = 24


class DraftBar(Struct, frozen=True, kw_only=True):
    """A bar of the file: its meter, the marker it lies under, its chords by beat (from 0)."""

    meter: Meter
    section: str
    chords: tuple[tuple[int, FoundChord], ...]


def draft_chart(title: str, tempo_bpm: Fraction, bars: Sequence[DraftBar], fifths: int) -> str:
    """Return the text of a chart that says what was heard; what is unsure stands in a comment.

    ``fifths`` is the key's signature, by which chords are spelled.  Sections are the file's
    markers, else eight bars each; those with the same chords are one that is played again.
    """
    names: dict[tuple[str, ...], str] = {}
    order: list[str] = []
    blocks: list[str] = []
    meter = bars[0].meter
    for given, own in _sections(bars):
        texts = tuple(_bar_text(bar, fifths) for bar in own)
        if texts not in names:
            name = _new_name(given, len(names), set(names.values()))
            names[texts] = name
            blocks.append("\n".join([f"{name}:", *_meter_line(own[0], meter), *_rows(texts)]))
        order.append(names[texts])
    unsure = [
        number
        for number, bar in enumerate(bars, 1)
        if any(chord.confidence < UNSURE for _, chord in bar.chords)
    ]
    tempo = f"tempo: {_tempo_text(tempo_bpm)}"
    head = [*unsure_lines(unsure), f"title: {title}", tempo, f"meter: {meter}"]
    form = ", ".join(_form(order))
    return "\n".join(["\n".join(head), "", "\n\n".join(blocks), "", f"form: {form}"]) + "\n"


def unsure_lines(bars: Sequence[int]) -> list[str]:
    """Return the comment at a draft's head that names the played bars whose chords are unsure."""
    if not bars:
        return []
    shown = ", ".join(map(str, bars[:_MOST_UNSURE])) + (" ..." if len(bars) > _MOST_UNSURE else "")
    return [f"# a draft; played bars whose chords are unsure: {shown}"]


def _form(order: Sequence[str]) -> Iterator[str]:
    """Yield the entries of a form: a section with how often it is played in a row."""
    for name, group in groupby(order):
        left = len(list(group))
        while left > 0:
            times = min(left, MOST_TIMES)
            yield name + (f" x{times}" if times > 1 else "")
            left -= times


def _sections(bars: Sequence[DraftBar]) -> Iterator[tuple[str, Sequence[DraftBar]]]:
    """Yield the name that a file gives and the bars of each section; none lasts over a meter."""
    start = 0
    for index in range(1, len(bars) + 1):
        is_end = index == len(bars)
        moves = not is_end and (bars[index].section, bars[index].meter) != (
            bars[start].section,
            bars[start].meter,
        )
        is_full = not bars[start].section and index - start == SECTION_BARS
        if is_end or moves or is_full:
            yield bars[start].section, bars[start:index]
            start = index


def _new_name(given: str, number: int, taken: set[str]) -> str:
    """Return a name for a section: the file's, with a number where that is taken, else a letter."""
    letters = "".join(sign for sign in given if sign.isalnum() or sign == " ").strip().casefold()
    name = letters[:_LONGEST_NAME].strip() or _letter(number)
    if name in SETTING_NAMES or name.split()[0] in BLOCK_PARTS:
        name = f"section {name}"  # a chart reads these words as its own
    found, count = name, 2
    while found in taken:
        found, count = f"{name} {count}", count + 1
    return found


def _letter(number: int) -> str:
    """Return the name of a section that has none: ``A``, after ``Z`` by number."""
    return chr(ord("A") + number) if number < 26 else f"part {number + 1}"


def _meter_line(bar: DraftBar, meter: Meter) -> list[str]:
    return [] if bar.meter == meter else [f"  meter: {bar.meter}"]


def _rows(texts: Sequence[str]) -> Iterator[str]:
    """Yield the bars, four a line."""
    for at in range(0, len(texts), _LINE_BARS):
        yield f"  | {' | '.join(texts[at : at + _LINE_BARS])} |"


def _bar_text(bar: DraftBar, fifths: int) -> str:
    """Return the chords of a bar with a stroke for each beat that one goes on."""
    by_beat = dict(bar.chords)
    beats = bar.meter.beats_per_bar
    marks = [
        heard_symbol(by_beat[beat], fifths) if beat in by_beat else "/" for beat in range(beats)
    ]
    marks[0] = "N.C." if marks[0] == "/" else marks[0]
    while len(marks) > 1 and marks[-1] == "/" and all(mark == "/" for mark in marks[1:]):
        marks.pop()
    return " ".join(marks)


def heard_symbol(found: FoundChord, fifths: int) -> str:
    """Return a chord's symbol as the key spells it, ``N.C.`` for none."""
    if found.chord is None:
        return "N.C."
    root = near_key(found.chord.root.pitch_class, fifths)
    bass = found.chord.bass and near_key(found.chord.bass.pitch_class, fifths)
    return build_chord(root, found.chord.suffix, bass).symbol


def _tempo_text(tempo_bpm: Fraction) -> str:
    """Return a tempo in whole beats a minute."""
    return str(max(1, round(tempo_bpm)))
