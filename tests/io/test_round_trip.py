"""Sections of shipped charts to MusicXML and back, with the chart that it carries and without it.

The judge is the chart itself, as the form unrolls it.  What a file without its chart cannot say is
listed, bar by bar, with the reason.
"""

import re
from fractions import Fraction

import pytest

from groove.cells.model import Library
from groove.chart.form import PlayedBar, unroll
from groove.chart.model import Song
from groove.chart.transpose import sounding_song
from groove.events import Part
from groove.io.early import put_early
from groove.io.foreign import ForeignBar
from groove.io.gate import Where
from groove.io.musicxml import song_from_musicxml
from groove.io.playing import ScoreJump, Signs
from groove.neck.line_places import LineNote
from groove.sheet.build import build_score
from groove.sheet.musicxml import CHART_FIELD, musicxml_text
from groove.timing import Meter
from tests.sheet.parts import UNLIKE_NAMES, played, sections_once

DIFFERENCES: dict[str, dict[str, list[int]]] = {
    # Its bass note is that of the chord before, so the note that comes early proves nothing.
    "button-drawer": {"push": [4, 8, 23]},
    # The last section slows down from bar to bar, which no section of a foreign file does.
    "two-clocks": {"tempo": [25, 26, 27, 28]},
}
"""What differs without the chart, by the song and by the bars as played."""


def file_of(song: Song, performance: object, tuning: object, part: Part = Part.BASS) -> str:
    score = build_score(performance, song, part=part, tuning=tuning)  # type: ignore[arg-type]
    return musicxml_text(score, song)


def said(bar: PlayedBar) -> dict[str, object]:
    """Return what a played bar says; a later time of a section may have a number behind it."""
    settings = bar.settings
    return {
        "section": bar.ref.section.rstrip(" 0123456789"),
        "meter": bar.meter,
        "word": bar.word,
        "chords": [
            (
                span.start_quarters,
                span.chord and (span.chord.root.pitch_class, span.chord.pitch_classes),
                span.chord and span.chord.bass_note.pitch_class,
            )
            for span in bar.chords
        ],
        "push": [span.push_sign for span in bar.chords],
        "feel": settings.feel and settings.feel.name,
        "fills": settings.fills,
        "seed": settings.seed,
        "swing": settings.swing,
        "key": settings.key and settings.key.name,
        "tempo": settings.tempo,
    }


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_a_chart_goes_to_musicxml_and_comes_back(library: Library, name: str) -> None:
    song, performance, tuning = played(sections_once(name), library)
    text = file_of(song, performance, tuning)
    assert song_from_musicxml(text.encode(), name) == song
    bare = text.replace(f'"{CHART_FIELD}"', '"other"')
    assert bare != text
    alone = [*unroll(song_from_musicxml(bare.encode(), name))]
    own = [*unroll(sounding_song(song))]
    assert len(alone) == len(own) >= 24
    found: dict[str, list[int]] = {}
    for a, b in zip(own, alone, strict=True):
        ours, theirs = said(a), said(b)
        for what in ours:
            if ours[what] != theirs[what]:
                found.setdefault(what, []).append(a.ref.played_bar)
    assert found == DIFFERENCES.get(name, {})


PUSHES = """
title: Early and Late
key: C
feel: straight eighths
fills: none
verse:
| C | <F | C <G | Am | 16<Em | F / <Dm / |
|: <C | G <C/E | <Am :|
"""
PUSHED = ["", "<", "", "<", "", "16<", "", "<", *["<", "", "<", "<"] * 2]
"""By hand, in the order played."""


@pytest.mark.parametrize("bass", ["long notes", "pedal"])
def test_a_push_comes_back_from_the_note_that_strikes_it(library: Library, bass: str) -> None:
    text = PUSHES.replace("fills: none", f"fills: none\nbass: {bass}")
    song, performance, tuning = played(text, library)
    bare = file_of(song, performance, tuning).replace(f'"{CHART_FIELD}"', '"other"')
    back = song_from_musicxml(bare.encode())
    signs = [span.push_sign for bar in unroll(back) for span in bar.chords]
    assert signs == PUSHED


def edited(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text


def foreign_bar(chords: str, notes: str, **signs: object) -> ForeignBar:
    """Return a bar of 4/4 of ``quarters symbol`` and of ``start length pitch``; ``t`` is
    behind the start of what is tied over, ``x`` behind the pitch of a ghost."""
    found = [
        LineNote(
            start_quarters=Fraction(start.removesuffix("t")),
            length_quarters=Fraction(length),
            pitch=int(pitch.removesuffix("x")),
            is_ghost=pitch.endswith("x"),
            is_tied=start.endswith("t"),
        )
        for start, length, pitch in (note.split() for note in notes.split(","))
    ]
    return ForeignBar(
        where=Where("measure", 1),
        meter=Meter(4, 4),
        chords=[(Fraction(at), symbol) for at, symbol in (c.split() for c in chords.split(","))],
        length_quarters=Fraction(4),
        line=tuple(found),
        **signs,  # type: ignore[arg-type]
    )


HELD, OVER = "0 7/2 36, 7/2 1/2 41", "0t 4 41"
"""C, then F an eighth before the bar line; F that goes on from there."""


@pytest.mark.parametrize(
    ("first", "second", "places"),
    [
        (("0 C", HELD), ("0 F", OVER), [[0, 3.5], []]),
        (("0 C", "0 15/4 36, 15/4 1/4 41"), ("0 F", OVER), [[0, 3.75], []]),
        # Struck anew on the beat, another note, a chord on the bass that was there, a beat early.
        (("0 C", HELD), ("0 F", "0 4 41"), [[0], [0]]),
        (("0 C", "0 7/2 36, 7/2 1/2 43"), ("0 F", "0t 4 43"), [[0], [0]]),
        (("0 F", "0 7/2 36, 7/2 1/2 41"), ("0 Fm", OVER), [[0], [0]]),
        (("0 C", "0 3 36, 3 1 41"), ("0 F", OVER), [[0], [0]]),
        (("0 C", "0 7/2 36, 7/2 1/2 41x"), ("0 F", OVER), [[0], [0]]),
        (("0 C, 3/2 F", "0 5/4 36, 5/4 11/4 41"), ("0 C", "0 4 36"), [[0, 1.5], [0]]),
        # Inside a bar: F on the third beat, struck an eighth before it, or after it.
        (("0 C, 2 F", "0 3/2 36, 3/2 5/2 41"), ("0 C", "0 4 36"), [[0, 1.5], [0]]),
        (("0 C, 2 F", "0 5/2 36, 5/2 3/2 41"), ("0 C", "0 4 36"), [[0, 2], [0]]),
    ],
)
def test_a_chord_is_early_only_where_the_bass_strikes_it_early(
    first: tuple[str, str], second: tuple[str, str], places: list[list[float]]
) -> None:
    bars = [foreign_bar(*first), foreign_bar(*second)]
    put_early(bars)
    assert [[at for at, _ in bar.chords] for bar in bars] == places


@pytest.mark.parametrize(
    ("before", "here"),
    [
        ({}, {"opens_repeat": True}),
        ({"closes_repeat": True}, {}),
        ({"endings": (1,)}, {"endings": (2,)}),
        ({}, {"signs": Signs(segno="")}),
        ({}, {"signs": Signs(coda="")}),
        ({"signs": Signs(to_coda="")}, {}),
        ({"signs": Signs(fine=True)}, {}),
        ({"signs": Signs(jump=ScoreJump(None))}, {}),
        ({"length_quarters": Fraction(3)}, {}),
        ({"meter": Meter(2, 2)}, {}),
    ],
)
def test_a_chord_to_which_two_ways_lead_stays_where_it_is(
    before: dict[str, object], here: dict[str, object]
) -> None:
    bars = [foreign_bar("0 C", HELD), foreign_bar("0 F", OVER)]
    for bar, signs in zip(bars, (before, here), strict=True):
        for name, value in signs.items():
            setattr(bar, name, value)
    put_early(bars)
    assert [bar.chords for bar in bars] == [[(Fraction(0), "C")], [(Fraction(0), "F")]]


def test_an_eighth_before_a_beat_that_is_an_eighth_is_no_push() -> None:
    """In 7/8 it is the beat before: there the chord has not changed yet."""
    bars = [foreign_bar("0 C", "0 3 36, 3 1/2 41"), foreign_bar("0 F", "0t 7/2 41")]
    for bar in bars:
        bar.meter, bar.length_quarters = Meter(7, 8), Fraction(7, 2)
    put_early(bars)
    assert [bar.chords for bar in bars] == [[(Fraction(0), "C")], [(Fraction(0), "F")]]


FIELDS = """
title: Two Gates
key: G
tempo: 104
feel: half-time
seed: 7
vary: none
intro:
|: G | D :|
|: Am | D :|
verse:
| G | C | Em | D |
chorus:
feel: shuffle
keys: out
| C | D | G | G |
form: intro, verse x2, chorus, verse, chorus x2
"""
FIELD = f'"{CHART_FIELD}"'


def test_form_and_feels_come_back_from_fields_of_their_own(library: Library) -> None:
    """Of a part without a line of the bass, so that all times of a section are alike."""
    song, performance, tuning = played(FIELDS, library)
    text = file_of(song, performance, tuning, Part.KEYS)
    back = song_from_musicxml(edited(text, (FIELD, '"other"')).encode())
    assert back.form == song.form
    assert [bar.number for section in back.sections for bar in section.bars] == [*range(1, 13)]
    feels = {s.name: s.settings.feel and s.settings.feel.name for s in back.sections}
    assert feels == {"intro": None, "verse": None, "chorus": "shuffle"}
    assert back.settings.feel and back.settings.feel.name == "half-time"
    assert back.settings.seed == 7
    swings = [back.settings.swing, *(section.settings.swing for section in back.sections)]
    assert swings == [None] * 4
    assert [bar.ref for bar in unroll(back)] == [bar.ref for bar in unroll(song)]
    # A form that says something else than the bars is not believed, nor is another's file.
    for pair in (
        ("verse x2, chorus, verse, chorus x2<", "verse, chorus<"),
        (">groove<", ">another program<"),
    ):
        other = song_from_musicxml(edited(text, (FIELD, '"other"'), pair).encode())
        assert other.form == ()
        assert len([*unroll(other)]) == len([*unroll(song)])


def test_times_that_are_not_alike_are_sections_of_their_own(library: Library) -> None:
    """The bass plays every time another way, and its notes stand under the bars."""
    song, performance, tuning = played(FIELDS.replace("vary: none", "vary: much"), library)
    text = file_of(song, performance, tuning)
    back = song_from_musicxml(edited(text, (FIELD, '"other"')).encode())
    assert back.form == () and len(back.sections) > 3
    assert len([*unroll(back)]) == len([*unroll(song)])


def test_a_field_that_cannot_be_read_is_left_out(library: Library) -> None:
    song, performance, tuning = played(FIELDS, library)
    text = file_of(song, performance, tuning, Part.KEYS)
    bare = edited(text, (FIELD, '"other"'), ('name="seed">7<', 'name="seed">seven<'))
    back = song_from_musicxml(bare.encode())
    assert back.settings.seed is None and back.settings.feel is None


def test_sections_keep_what_the_band_is_asked_where_bars_were_changed(library: Library) -> None:
    """A bar of the first verse is taken out by hand: the bars are no longer those of the chart."""
    song, performance, tuning = played(FIELDS, library)
    text = file_of(song, performance, tuning, Part.KEYS)
    second = re.search(r'<measure number="6".*?</measure>', text)
    assert second
    back = song_from_musicxml(text.replace(second[0], "").encode())
    assert len([*unroll(song)]) - 2 <= len([*unroll(back)]) < len([*unroll(song)])
    assert back != song
    asked = {
        s.name: (s.settings.feel and s.settings.feel.name, s.settings.keys and s.settings.keys.name)
        for s in back.sections
    }
    assert asked["verse"] == (None, None)
    choruses = [value for name, value in asked.items() if name.startswith("chorus")]
    assert len(choruses) >= 1 and set(choruses) == {("shuffle", "out")}
