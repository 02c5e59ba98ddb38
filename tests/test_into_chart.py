"""A part written under the bars of its chart, read back, is the same part.

What is expected is what the tool plays before anything is written: tick, stated length, pitch,
touch, string and fret of every bass note.  Strings and frets on the page are read by
``tests/chart_tab_reader.py``, which knows nothing of the project.
"""

from bisect import bisect_right
from collections import Counter
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from groove.cells.model import Feel, Library
from groove.chart.into_chart import with_part
from groove.chart.parse import parse_chart
from groove.errors import ChartError, OptionError
from groove.events import Part, Performance, Touch
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.neck.instrument import TUNINGS, Tuning
from groove.pipeline import PerformOptions, perform_song, song_tuning
from groove.timing import TICKS_PER_QUARTER
from tests.chart_tab_reader import page_notes
from tests.strategies_chart import charts

CHARTS = sorted((Path(__file__).parent.parent / "shared" / "charts").glob("*.txt"))
WIDTH = 80

Told = tuple[int, int, int, Touch, int, int]


def placed(
    text: str, library: Library, feel: str | None = None, tuning: Tuning | None = None
) -> Performance:
    """Return what a chart plays, its bass placed."""
    assert library is load_library()
    return _placed(text, feel, tuning)


@lru_cache(maxsize=16)
def _placed(text: str, feel: str | None, tuning: Tuning | None) -> Performance:
    """The same, of charts that several tests play made once."""
    song = parse_chart(text)
    options = PerformOptions(feel=feel, tight=True, tuning=tuning)
    whole = perform_song(song, load_library(), options)
    return finger_performance(whole, tuning=song_tuning(song, options))[0]


def written(
    text: str,
    library: Library,
    feel: str | None = None,
    bars: set[int] | None = None,
    tuning: Tuning | None = None,
    part: Performance | None = None,
) -> str:
    """Return a chart with its part under its bars, or under those of these numbers.

    ``part`` is what the chart plays, where it is placed already.
    """
    song = parse_chart(text)
    part = part or placed(text, library, feel, tuning)
    chosen = {bar.ref.written_bar for bar in part.bars} if bars is None else bars
    options = PerformOptions(tuning=tuning)
    return with_part(text, song, part, chosen, song_tuning(song, options), WIDTH)


def told(part: Performance) -> list[Told]:
    """Return what the page has of every bass note, in order."""
    return sorted(
        (
            note.grid_tick,
            note.written_ticks,
            note.pitch,
            note.touch,
            note.place.string,
            note.place.fret,
        )
        for note in part.part_notes(Part.BASS)
        if note.place
    )


EVERY_FEEL = """title: Feels
tempo: 100
key: D
meter: {meter}
fills: few
verse:
  | D | <G | A7 | Bm |
chorus:
  | A/C# | <D |
form: verse, chorus, verse, chorus
"""


def unlike_feels(library: Library) -> dict[str, Feel]:
    """Return a feel of every meter, grid and generator of a bass: what rows of tab hang on."""
    kinds = {}
    for name, feel in library.feels.items():
        cell = library.bass[feel.bass]
        kinds[feel.meter, cell.slots_per_beat, cell.generator] = name
    return {name: library.feels[name] for name in kinds.values()}


def test_a_song_is_read_back_in_every_kind_of_feel(library: Library) -> None:
    """Pushes, a slash chord, fills, and a second time that has grown; 12 bars a feel."""
    compared = notes = 0
    for name, feel in unlike_feels(library).items():
        text = EVERY_FEEL.format(meter=feel.meter or "4/4")
        before = placed(text, library, name)
        after = placed(written(text, library, name, part=before), library)
        assert told(after) == told(before), name
        compared += 1
        notes += len(told(before))
    assert compared == 11
    assert notes > 11 * 12 * 2


def test_the_page_has_the_strings_and_frets_that_are_played(library: Library) -> None:
    whole = (CHARTS[0].parent / "lantern-row.txt").read_text()
    text = whole.partition("form:")[0] + "form: intro, verse x2, chorus, bridge, ending\n"
    part = placed(text, library)
    first = {(bar.ref.section, bar.ref.bar_in_section): bar for bar in part.bars[::-1]}
    starts = [bar.start_tick for bar in part.bars]
    expected = []
    for (section, number), bar in first.items():
        for note in part.part_notes(Part.BASS):
            assert note.place
            assert note.grid_tick + note.written_ticks <= min(
                [start for start in starts if start > note.grid_tick] or [part.end_tick]
            )
            if bar.start_tick <= note.grid_tick < bar.end_tick:
                sign = "x" if note.touch is Touch.GHOST else str(note.place.fret)
                start = Fraction(note.grid_tick - bar.start_tick, TICKS_PER_QUARTER)
                length = Fraction(note.written_ticks, TICKS_PER_QUARTER)
                expected.append((section, number, start, length, note.place.string, sign))
    page = [
        (
            note.section,
            note.bar,
            note.start,
            note.length,
            note.string,
            note.sign,
        )
        for note in page_notes(written(text, library, part=part), beats=4)
        if note.section in {section for section, _ in first}
    ]
    assert sorted(page) == sorted(expected)
    assert len(page) > 200


def test_a_chart_with_its_part_in_it_stays_as_it_is(library: Library) -> None:
    texts = [path.read_text() for path in CHARTS[3::3]]
    once = [written(text, library) for text in texts]
    assert [written(text, library) for text in once] == once
    assert len(once) == 2


@settings(
    max_examples=5,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(charts(), st.sampled_from([None, "sixteenths", "shuffle", "straight eighths"]))
def test_any_chart_is_read_back(library: Library, text: str, feel: str | None) -> None:
    try:
        before = placed(text, library, feel)
        new = written(text, library, feel, part=before)
    except (ChartError, OptionError):
        return
    assume("(hits" not in text)
    # What no row stands under, a pickup, is drawn in the feel that was asked for.
    after = placed(new, library, feel)
    if "transpose" in text:
        # Moved away and back a note may come to another string of the same pitch.
        assert [note[:4] for note in told(after)] == [note[:4] for note in told(before)]
    else:
        # Nor has it a place of its own: what is written after it may lead the hand elsewhere.
        lead_in = before.bars[0].end_tick if before.bars[0].ref.is_pickup else 0
        drawn, kept = (
            [note if note[0] >= lead_in else note[:4] for note in told(part)]
            for part in (before, after)
        )
        assert kept == drawn


@settings(
    max_examples=5,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(charts(), st.sets(st.integers(1, 12), min_size=1))
def test_a_piece_is_kept(library: Library, text: str, bars: set[int]) -> None:
    try:
        before = placed(text, library)
        new = written(text, library, bars=bars, part=before)
    except (ChartError, OptionError):
        return
    assume("(hits" not in text)
    after = placed(new, library)
    chosen = [bar for bar in before.bars if bar.ref.written_bar in bars]

    def inside(part: Performance) -> list[tuple[int, int, Touch]]:
        return [
            (tick, pitch, touch)
            for tick, _, pitch, touch, *_ in told(part)
            if any(bar.start_tick <= tick < bar.end_tick for bar in chosen)
        ]

    assert inside(after) == inside(before)


def test_what_is_not_asked_for_stays_as_it_was_typed(library: Library) -> None:
    text = "vary: none\n" + (CHARTS[0].parent / "lantern-row.txt").read_text()
    new = written(text, library, bars={13})
    lines = text.splitlines()
    changed = next(n for n, line in enumerate(lines) if "Bm7 | G | F#m7" in line)
    assert new.splitlines()[:changed] == lines[:changed]
    assert new.splitlines()[-1] == lines[-1]
    song = parse_chart(new)
    assert [bar.number for s in song.sections for bar in s.bars if bar.line] == [13]


def bar_notes(played: Performance, part: Part) -> list[list[tuple[int, int | None, int, Touch]]]:
    """Return tick, stated length, pitch and touch of a part's notes, by the bar they begin in."""
    found: list[list[tuple[int, int | None, int, Touch]]] = [[] for _ in played.bars]
    starts = [bar.start_tick for bar in played.bars]
    for note in sorted(played.part_notes(part), key=lambda note: (note.grid_tick, note.pitch)):
        told = (note.grid_tick, note.stated_ticks, note.pitch, note.touch)
        found[bisect_right(starts, note.grid_tick) - 1].append(told)
    return found


@pytest.mark.parametrize("path", CHARTS[3::3], ids=lambda path: path.stem)
def test_all_bars_but_those_asked_for_are_played_as_before(library: Library, path: Path) -> None:
    """One bar of what comes most often is written: its times get sections, and grow as ever."""
    text = path.read_text()
    before = placed(text, library)
    counted = Counter(bar.ref.section for bar in before.bars if bar.ref.bar_in_section == 1)
    section = parse_chart(text).section(counted.most_common(1)[0][0])
    number = section.bars[3].number
    new = written(text, library, bars={number}, part=before)
    after = placed(new, library)
    assert len(parse_chart(new).sections) > len(parse_chart(text).sections)
    kept = [index for index, bar in enumerate(before.bars) if bar.ref.written_bar != number]
    assert len(kept) > 30
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        was, now = bar_notes(before, part), bar_notes(after, part)
        assert [now[index] for index in kept] == [was[index] for index in kept], part


def test_a_time_that_differs_is_named_by_its_number(library: Library) -> None:
    """The third chorus, the last one, has bars of its own; the second is like the first."""
    text = (CHARTS[0].parent / "pebble-road.txt").read_text()
    song = parse_chart(written(text, library, bars={9}))
    assert [section.name for section in song.sections] == ["verse", "chorus", "chorus 3", "middle"]
    order = [(entry.section, entry.times) for entry in song.form]
    assert order[1::2] == [("chorus", 1), ("chorus", 1), ("chorus 3", 1)]


REPEATED = """title: Moss
vary: none
# above
verse:  # the verse
  cue: all together
  |: (p) D / A / | G  |1. Em7 # first
   | A7 :|2. A7 |
chorus:
  | (3/4) G | % | (4/4) D | (ritard) A |
form: verse, chorus x2, verse, chorus  # hm
"""


def test_times_that_differ_become_sections_like_another(library: Library) -> None:
    new = written(REPEATED, library, "sixteenths")
    song = parse_chart(new)
    names = [section.name for section in song.sections]
    assert names == ["verse", "chorus", "chorus 2", "chorus 3"]
    assert [section.like for section in song.sections] == ["", "", "chorus", "chorus"]
    assert [(e.section, e.times) for e in song.form] == [
        ("verse", 1),
        ("chorus", 1),
        ("chorus 2", 1),
        ("verse", 1),
        ("chorus 3", 1),
    ]
    assert song.sections[0].bars[0].cues == ("all together",)
    ends = [any(bar.directions.has_ritard for bar in s.bars) for s in song.sections]
    assert ends == [False, False, False, True]
    # Both passes of the verse have the same notes.
    assert any(bar.closes_repeat for bar in song.sections[0].bars)
    assert told(placed(new, library)) == told(placed(REPEATED, library, "sixteenths"))
    for words in ("# above", "verse:  # the verse", "# hm"):
        assert words in new


JUMPING = """verse:
  | D | G | (segno) Em7 | (to coda) A7 |
chorus:
  | G | (D.S. al coda) A |
end:
  | (coda) <D | (tag x2) Em7 | (hit) D |
"""


def test_jumps_are_written_out_where_times_differ(library: Library) -> None:
    new = written(JUMPING, library, "walking")
    song = parse_chart(new)
    assert song.form
    assert "(segno)" not in new
    assert "(D.S." not in new
    assert told(placed(new, library)) == told(placed(JUMPING, library, "walking"))


PICKUP = "pickup: 1\nverse:\n  | <D | G | <A | D |\n  | D | <G | A | D |\n"


def test_a_note_that_rings_from_the_pickup_is_held_by_the_first_bar(library: Library) -> None:
    before = placed(PICKUP, library, "sixteenths")
    first = next(iter(before.part_notes(Part.BASS)))
    assert first.grid_tick < before.bars[1].start_tick < first.grid_tick + first.written_ticks
    assert told(placed(written(PICKUP, library, "sixteenths"), library)) == told(before)


def test_a_note_that_rings_into_a_bar_that_was_not_asked_for_keeps_its_length(
    library: Library,
) -> None:
    text = "vary: none\nverse:\n  | D | G | <A | D |\n"
    before = placed(text, library, "sixteenths")
    bar = before.bars[1]
    inside = [note for note in told(before) if bar.start_tick <= note[0] < bar.end_tick]
    assert any(tick + length > bar.end_tick for tick, length, *_ in inside)
    new = written(text, library, "sixteenths", bars={2}, part=before)
    after = told(placed(new, library, "sixteenths"))
    assert [note for note in after if bar.start_tick <= note[0] < bar.end_tick] == inside


def test_another_bass_is_named_above(library: Library) -> None:
    text = "title: Moss\nverse:\n  | C | G | A | B |\n"
    five = TUNINGS["five"]
    new = written(text, library, tuning=five)
    assert "\ntuning: five\n" in new
    assert told(placed(new, library)) == told(placed(text, library, tuning=five))


def test_a_chart_that_sounds_elsewhere_keeps_its_key(library: Library) -> None:
    text = "transpose: -3\nverse:\n  | G | C | D | G |\n"
    new = written(text, library)
    assert new.startswith("transpose: -3\n")
    pitches = [note[2] for note in told(placed(text, library))]
    assert [note[2] for note in told(placed(new, library))] == pitches
    with pytest.raises(OptionError, match="half steps"):
        written(text.replace("-3", "12"), library)
