"""Swing on paper and in files: straight notes under a sign, and what is played is what was played.

Rules: G. Read, *Music Notation* (1964), and E. Gould, *Behind Bars* (2011), on swing: eighths are
written alike under a sign that tells their ratio, triplets are left where all three are needed
(both from memory).  MusicXML 4.0: ``swing`` is "the ratio of the duration of the first note to
the duration of the second note" of a pair, and words and ``metronome`` say it to a reader.
"""

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import music21
import pytest

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.engrave import sheet_svg
from groove.io.library import load_library
from groove.io.musicxml import song_from_musicxml
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import Staves
from groove.sheet.swung import straightened, swing_mark
from groove.sheet.voices import Cut, VoiceStroke
from groove.timing import STRAIGHT, TRIPLET_SWING, Meter, Swing, SwingUnit
from tests.sheet.musicxml_schema import schema_errors

SVG = "{http://www.w3.org/2000/svg}"
SONG = """title: Slant
tempo: {tempo}
meter: {meter}
key: F
feel: {feel}
vary: none
fills: {fills}
verse:
  | F | Dm7 | Gm7 | C7 |
  | Am7 | D7 | Gm7 | <F |
"""
FEELS = {
    "shuffle": (116, "4/4"),
    "half-time shuffle": (150, "4/4"),
    "slow twelve-eight": (60, "4/4"),
    "walking": (160, "4/4"),
    "jazz waltz": (150, "3/4"),
    "laid-back sixteenths": (80, "4/4"),
}
PARTS = (Part.BASS, Part.DRUMS, Part.KEYS)
TIGHT = PerformOptions(tight=True)


@lru_cache(maxsize=32)
def played(feel: str, fills: str = "none") -> tuple[Any, Performance]:
    tempo, meter = FEELS[feel]
    text = SONG.format(tempo=tempo, meter=meter, feel=feel, fills=fills)
    song = parse_chart(text, source="slant")
    performance, _ = finger_performance(perform_song(song, load_library(), TIGHT))
    return song, performance


def file_of(song: Any, performance: Performance, part: Part = Part.BASS) -> Element:
    score = build_score(performance, song, part=part, written_out=True)
    text = musicxml_text(score, song, staves=Staves.NOTATION)
    assert schema_errors(text) == []
    return ElementTree.fromstring(text.split("\n", 2)[2])


def values(root: Element) -> Iterator[tuple[int, Fraction, bool, Element]]:
    """Yield measure, place in it in quarters, whether it is in a tuplet, and every note struck."""
    divisions = int(root.findtext(".//divisions", ""))
    for index, measure in enumerate(root.iter("measure")):
        at = before = Fraction(0)
        for each in measure:
            length = Fraction(int(each.findtext("duration", "0")), divisions)
            if each.tag == "backup":
                at -= length
            if each.tag != "note":
                continue
            start = before if each.find("chord") is not None else at
            if each.find("rest") is None and each.find("tie[@type='stop']") is None:
                yield index, start, each.find("time-modification") is not None, each
            before, at = start, start + length


def swings(root: Element) -> list[tuple[Fraction, Fraction] | None]:
    """Return the pair's straight note in quarters and its long share, a measure."""
    units = {"eighth": Fraction(1, 2), "16th": Fraction(1, 4)}
    found: list[tuple[Fraction, Fraction] | None] = []
    force = None
    for measure in root.iter("measure"):
        for swing in measure.iter("swing"):
            if swing.find("straight") is not None:
                force = None
                continue
            first, second = (int(swing.findtext(tag, "")) for tag in ("first", "second"))
            unit = units[swing.findtext("swing-type", "")]
            force = unit, Fraction(first, first + second)
        found.append(force)
    return found


def sounding(at: Fraction, force: tuple[Fraction, Fraction] | None) -> Fraction:
    """Return where the second of a pair is struck; nothing else moves."""
    if force is None or at % (2 * force[0]) != force[0]:
        return at
    unit, share = force
    return at - unit + 2 * unit * share


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("feel", FEELS)
def test_a_reader_that_knows_swing_plays_what_the_band_plays(feel: str, part: Part) -> None:
    """Against the band's own strokes, which no page and no file has been asked about.

    A share is told in thousandths, a triplet of a walking band is played as its pairs are, and a
    drummer's last sixteenths lean as his eighths do.
    """
    song, performance = played(feel)
    root = file_of(song, performance, part)
    forces = swings(root)
    bars = performance.bars
    mine = sorted(
        (index, float(at if tuplet else sounding(at, forces[index])))
        for index, at, tuplet, _ in values(root)
    )
    starts = {bar.ref.played_bar: (i, bar.start_tick) for i, bar in enumerate(bars)}
    theirs = []
    for note in performance.part_notes(part):
        index = next(i for i, bar in enumerate(bars) if note.grid_tick < bar.end_tick)
        theirs.append((index, (note.onset_tick - bars[index].start_tick) / 960))
    theirs.sort()
    assert len(mine) == len(theirs) > 10 and len(starts) == 8
    apart = [abs(one[1] - other[1]) for one, other in zip(mine, theirs, strict=True)]
    assert [one[0] for one in mine] == [other[0] for other in theirs]
    exact = sum(each < 0.002 for each in apart)
    assert exact >= len(apart) * (1.0 if forces[0] and forces[0][1] == Fraction(2, 3) else 0.9)
    assert max(apart) < 0.13


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("feel", [name for name in FEELS if "sixteenths" not in name])
def test_only_a_stroke_on_the_second_of_three_makes_a_triplet(feel: str, part: Part) -> None:
    """Counted on the band's grid: 320 of a beat's 960 ticks is the second of three."""
    song, performance = played(feel, "many")
    root = file_of(song, performance, part)
    bars = performance.bars
    beats = set()
    for note in performance.part_notes(part):
        index = next(i for i, bar in enumerate(bars) if note.grid_tick < bar.end_tick)
        beat, place = divmod(note.grid_tick - bars[index].start_tick, 960)
        if place % 240 and place != 640:
            beats.add((index, beat))
    shown = {(index, int(at)) for index, at, tuplet, _ in values(root) if tuplet}
    assert shown <= beats
    # What is only held into such a beat has no head of its own there.
    assert len(beats - shown) <= len(beats) // 4
    rolls = feel in ("half-time shuffle", "slow twelve-eight")
    assert len(beats) >= (4 if rolls and part is Part.DRUMS else 0)


CHANGES = """title: Slant
tempo: 100
key: F
feel: straight eighths
vary: none
fills: none
pickup: 1 | C7 |
a:
  | F | Dm7 | Gm7 | C7 |
b:
  feel: shuffle
  | F | Dm7 | Gm7 | C7 |
c:
  swing: 74% eighths
  | F | Dm7 | Gm7 | C7 |
d:
  feel: one chord funk
  | F | Dm7 | Gm7 | C7 |
e:
  swing: 58% sixteenths
  | F | Dm7 | (feel shuffle) Gm7 | C7 |
form: a, b, a, b, c, d, e
"""


def test_every_change_is_said_also_where_a_repeat_goes_back_to_even_notes(
    library: Library,
) -> None:
    """Printed are a and b between repeat signs: a is even again when it comes back."""
    song = parse_chart(CHANGES.replace("one chord funk", "one-chord funk"), source="slant")
    performance, _ = finger_performance(perform_song(song, library, TIGHT))
    score = build_score(performance, song)
    said = {}
    for measure in score.measures:
        if measure.swing:
            mark = measure.swing_mark
            words = " ".join(filter(None, (mark.word, mark.sign, mark.share))) if mark else ""
            said[measure.number] = words
    assert [measure.section for measure in score.measures if measure.section] == list("abcde")
    assert said == {
        1: "straight",
        5: "swing ♫=3",
        9: "swing ♫=. (74%)",
        13: "light swing ♬=3 (54%)",
        17: "light swing ♬=3 (58%)",
        19: "swing ♫=3",
    }


def test_a_song_without_swing_says_nothing_of_it(library: Library) -> None:
    song = parse_chart("key: C\nfeel: straight eighths\na:\n| C | F |\n", source="even")
    performance, _ = finger_performance(perform_song(song, library, TIGHT))
    score = build_score(performance, song)
    assert [measure.swing for measure in score.measures] == [None, None]


def without_chart(song: Any, performance: Performance) -> bytes:
    """Return a file of the part that has lost the chart that it carries."""
    score = build_score(performance, song, written_out=True)
    text, count = re.subn(
        r"<miscellaneous-field.*?</miscellaneous-field>", "", musicxml_text(score, song), flags=re.S
    )
    assert count >= 2
    return text.encode()


@pytest.mark.parametrize("feel", ["shuffle", "slow twelve-eight", "walking", "half-time shuffle"])
def test_a_file_without_its_chart_comes_back_with_its_swing_and_is_played_the_same(
    library: Library, feel: str
) -> None:
    song, performance = played(feel)
    back = song_from_musicxml(without_chart(song, performance), "slant.musicxml")
    walks = feel == "walking"
    assert str(back.settings.swing) == ("by tempo eighths" if walks else "66.67% eighths")
    again = perform_song(back, library, TIGHT)
    one, other = (
        [(note.onset_tick, note.pitch) for note in each.part_notes(Part.BASS)]
        for each in (performance, again)
    )
    assert [pitch for _, pitch in one] == [pitch for _, pitch in other]
    apart = max(abs(a - b) for (a, _), (b, _) in zip(one, other, strict=True))
    assert apart <= (96 if walks else 1)
    assert len(one) >= 16


@pytest.mark.parametrize(
    ("swing", "read"),
    [
        ("<first>2</first><second>1</second>", "66.67% eighths"),
        ("<first>3</first><second>1</second><swing-type>16th</swing-type>", "75% sixteenths"),
        ("<straight/>", "straight"),
        ("<first>1</first><second>1</second>", "straight"),
        ("<first>9</first><second>1</second>", None),
        ("<first>1</first><second>2</second>", None),
        ("<first>0</first><second>2</second>", None),
        ("<first>2</first><second>1</second><swing-type>half</swing-type>", None),
    ],
)
def test_swing_of_other_programs_is_read_where_a_chart_can_say_it(
    swing: str, read: str | None
) -> None:
    """MusicXML 4.0, ``swing``: the type is an eighth where it is not given."""
    note = "<note><rest measure='yes'/><duration>4</duration></note>"
    harmony = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
    rest = "".join(f"<measure number='{n}'>{harmony}{note}</measure>" for n in range(2, 6))
    text = (
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>B</part-name>"
        "</score-part></part-list><part id='P1'><measure number='1'><attributes><divisions>1"
        "</divisions></attributes><direction><direction-type><words>Swing</words></direction-type>"
        f"<sound><swing>{swing}</swing></sound></direction>{harmony}{note}</measure>{rest}"
        "</part></score-partwise>"
    )
    song = song_from_musicxml(text.encode(), "other.musicxml")
    said = song.settings.swing
    assert (said and ("straight" if said == STRAIGHT else str(said))) == read
    told = [notice for notice in song.notices if "swing" in str(notice)]
    assert bool(told) == (read is None)


def test_the_sign_is_drawn_beside_its_words_and_nothing_is_over_it(library: Library) -> None:
    """Its path begins right of the words before it, and ends left of those after it."""
    chart = CHANGES.replace("one chord funk", "one-chord funk")
    song = parse_chart(chart, source="slant")
    performance, _ = finger_performance(perform_song(song, library, TIGHT))
    signs = 0
    for page in map(ElementTree.fromstring, sheet_svg(performance, song)):
        for heading in page.iter(f"{SVG}g"):
            paths = [p for p in heading.findall(f".//{SVG}path") if p.get("stroke-width") == "0"]
            if "reh" not in (heading.get("class") or "").split():
                continue
            lefts = sorted(
                [(float(text.get("x", 0)), "words") for text in heading.iter(f"{SVG}text")]
                + [(edges(path)[0], "sign") for path in paths]
            )
            rights = {edges(path)[0]: edges(path)[1] for path in paths}
            for (left, kind), (after, _) in pairwise(lefts):
                assert kind == "words" or rights[left] < after
            signs += sum(len(path.get("d", "")) > 400 for path in paths)
    assert signs == 5  # b, c, d, e, and the shuffle in the middle of e


def edges(path: Element) -> tuple[float, float]:
    """Return how far an outline reaches: its moves are absolute, its steps stay near them."""
    x, _, size, _ = (float(n) for n in re.findall(r"-?[\d.]+", path.get("transform", "")))
    places = [float(n) for n in re.findall(r"M(-?[\d.]+)", path.get("d", ""))]
    return x + size * min(places), x + size * max(places)


def test_music21_reads_the_words_of_the_sign() -> None:
    """Of 10.5.1, which leaves ``swing`` out as readers of 3.1 do."""
    song, performance = played("shuffle")
    text = musicxml_text(build_score(performance, song), song)
    read: Any = music21.converter.parseData(text, format="musicxml")
    words = [each.content for each in read.recurse().getElementsByClass("TextExpression")]
    assert "swing" in words
    assert performance.bars[0].in_triplets and TRIPLET_SWING.percent == pytest.approx(200 / 3)


@pytest.mark.parametrize(
    ("percent", "word"), [(52, "light swing"), (58, "light swing"), (59, "swing"), (62, "swing")]
)
def test_a_swing_is_light_up_to_half_way_from_even_to_triplets(percent: float, word: str) -> None:
    """50 and 66.67 percent: half-way is 58.33."""
    assert swing_mark(Swing(percent, SwingUnit.EIGHTHS)).word == word


def cut(start: int, end: int) -> Cut:
    """Return what of a stroke falls into a bar, of which nothing but its places is asked."""
    return Cut(start, end, VoiceStroke(start, end, ()), tied_in=False, tied_out=False)


@pytest.mark.parametrize(
    ("meter", "places", "written"),
    [
        # A quarter has 960 ticks: the second of a pair stands on 640, and is written on 480.
        ("4/4", [(0, 640), (640, 960)], [(0, 480), (480, 960)]),
        ("4/4", [(0, 320), (640, 960)], [(0, 480), (480, 960)]),
        # The middle of the three is struck, or one voice has a half beside the last of three.
        ("4/4", [(0, 320), (320, 640), (640, 960)], [(0, 320), (320, 640), (640, 960)]),
        ("4/4", [(0, 480), (640, 960)], [(0, 480), (640, 960)]),
        # Where the beat is no quarter nothing of it is a pair.
        ("6/8", [(0, 640), (640, 960)], [(0, 640), (640, 960)]),
    ],
)
def test_a_pair_is_written_as_two_alike(
    meter: str, places: list[tuple[int, int]], written: list[tuple[int, int]]
) -> None:
    bar = tuple(cut(*place) for place in places)
    count, unit = map(int, meter.split("/"))
    found = straightened({1: [bar]}, [TRIPLET_SWING], [Meter(count, unit)])
    assert [(each.start, each.end) for each in found[1][0]] == written
