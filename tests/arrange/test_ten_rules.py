"""What makes a line sound played, measured over a whole song in every feel.

The rules are common practice, no source, but where one is named; kick and bass are read from the
written MIDI with mido.  That a chord has its root on time is ``test_no_late_chord``, that fills end
somewhere ``test_fills`` and ``test_fill_places``, that approaches arrive by a step
``test_leading_lines``.
"""

from functools import cache
from itertools import pairwise
from statistics import fmean

import pytest

from groove.cells.model import AimKind, LineKind
from groove.events import Bar, Note, Part, Performance, Role, Touch
from groove.io.midi import midi_bytes
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.songs import LIBRARY, METERS, play_rhythm
from tests.cells.cell_lines import bass_bars
from tests.midi_support import mido_strokes, seconds

FEELS = [name for name in sorted(LIBRARY.feels) if name != "long notes"]
HOOKS = [name for name in FEELS if LIBRARY.feels[name].line is LineKind.HOOK]
STEPS = {
    name: [
        stroke.aim.kind
        for bar in bass_bars(LIBRARY.bass[LIBRARY.feels[name].bass])
        for stroke in bar.strokes
    ]
    for name in FEELS
}
GHOSTLY = [name for name in FEELS if AimKind.GHOST in STEPS[name]]
WRITTEN = [name for name in FEELS if LIBRARY.feels[name].line is not LineKind.NEW]
"""All but those that walk: each note of a walk leads on."""
LEADING = [name for name in WRITTEN if name != "tumbao"]
"""A tumbao anticipates each root itself, so that nothing leads on."""
LOWEST, OCTAVE = STANDARD.lowest_pitch, 12
KICK = DRUM_KEYS["kick"]
TOGETHER_SEC = 0.015
SONG = """title: Ten
meter: {meter}
tempo: {tempo}
key: C
feel: {feel}
intro:
| C | Am7 | F | G7 |
verse:
| C | Am7 | Dm7 | G7 | C | E7 | Fmaj7 | G7sus4 |
chorus:
| F | G/B | C | Am7 | Dm7 | Bm7b5 | E7 | A7 |
breakdown:
| Dm | C/E | F | G |
end:
| C | C |
form: {form}
"""
WHOLE = "intro, verse, chorus, verse, breakdown, chorus, chorus, end"
ONCE = "intro, verse, chorus, end"


@cache
def song(feel: str, form: str = WHOLE, *, tight: bool = True) -> Performance:
    """Return bass and drums of a song in a feel's own meter, at the middle of its tempi."""
    tempo = sum(LIBRARY.feels[feel].tempo_beats) // 2
    text = SONG.format(meter=METERS[feel], tempo=tempo, feel=feel, form=form)
    return play_rhythm(text, PerformOptions(tight=tight))


def bar_notes(performance: Performance, bar: Bar, part: Part = Part.BASS) -> list[Note]:
    """Return what a part strikes in a bar."""
    end = bar.start_tick + bar.length_ticks
    return [n for n in performance.part_notes(part) if bar.start_tick <= n.grid_tick < end]


def rhythm(performance: Performance, bar: Bar) -> list[int]:
    """Return where the bass strikes in a bar, in ticks from its line."""
    return [note.grid_tick - bar.start_tick for note in bar_notes(performance, bar)]


@pytest.mark.parametrize("feel", HOOKS)
def test_1_the_rhythm_is_the_hook(feel: str) -> None:
    """Bars 1 and 3 of a phrase, on other chords, have one rhythm all through a section."""
    performance = song(feel)
    by_place = {
        (bar.ref.section, bar.ref.occurrence, bar.ref.bar_in_section): bar
        for bar in performance.bars
    }
    compared = 0
    for (section, occurrence, number), bar in by_place.items():
        if section in ("verse", "chorus") and number % 4 == 1:
            other = by_place[section, occurrence, number + 2]
            assert rhythm(performance, bar) == rhythm(performance, other), (section, number)
            compared += 1
    assert compared == 10


@pytest.mark.parametrize("feel", FEELS)
def test_2_seven_kicks_of_ten_fall_with_the_bass(feel: str) -> None:
    """Within 15 ms of a sounding stroke, as a listener would have them, in the file as written."""
    performance = song(feel, ONCE, tight=False)
    strokes = mido_strokes(midi_bytes(performance))
    ghosts = {n.onset_tick for n in performance.part_notes(Part.BASS) if n.touch is Touch.GHOST}
    bass = [seconds(performance, s[2]) for s in strokes if s[0] == 2 and s[2] not in ghosts]
    kicks = [seconds(performance, s[2]) for s in strokes if s[0] == 10 and s[1] == KICK]
    together = sum(min(abs(kick - at) for at in bass) <= TOGETHER_SEC for kick in kicks)
    assert len(kicks) >= 20
    assert together * 10 >= len(kicks) * 7


@pytest.mark.parametrize("feel", FEELS)
def test_3_a_note_sounds_as_long_as_its_feel_says(feel: str) -> None:
    """Of notes of at most a beat that no swing moves, and none into the next."""
    performance = song(feel)
    percent = LIBRARY.feels[feel].length_percent
    line = performance.part_notes(Part.BASS)
    pulse = performance.bars[0].meter.pulse_ticks
    short = off = 0
    for note, after in pairwise(line):
        assert note.end_tick <= after.onset_tick
        is_plain = note.touch is Touch.PLAIN and not (note.shift_ticks or after.shift_ticks)
        if is_plain and note.written_ticks <= pulse:
            # Where it is stated to end on a swung sixteenth, up to six more.
            off += abs(100 * note.length_ticks / note.written_ticks - percent) > 6
            short += 1
    assert short >= 15
    assert off * 20 <= short


@pytest.mark.parametrize("feel", GHOSTLY)
def test_4_ghosts_are_drums(feel: str) -> None:
    performance, _ = finger_performance(song(feel, ONCE))
    line = performance.part_notes(Part.BASS)
    pulse = performance.bars[0].meter.pulse_ticks
    ghosts = [n for n in line if n.touch is Touch.GHOST]
    assert 0.05 <= len(ghosts) / len(line) <= 0.3
    for before, ghost, after in zip(line, line[1:], line[2:], strict=False):
        if ghost.touch is not Touch.GHOST:
            continue
        assert ghost.grid_tick % pulse, "off the beat"
        assert ghost.place and before.place
        assert ghost.place.string == before.place.string, "under the hand"
        assert Touch.PLAIN in {before.touch, after.touch}, "two in a row at most"
        if Touch.GHOST not in (before.touch, after.touch):
            near = fmean((before.velocity, after.velocity))
            assert 0.39 <= ghost.velocity / near <= 0.61
            assert ghost.length_ticks * 2 <= min(before.length_ticks, after.length_ticks)
            lasts = [seconds(performance, tick) for tick in (ghost.onset_tick, ghost.end_tick)]
            assert lasts[1] - lasts[0] <= 0.060


@pytest.mark.parametrize("feel", LEADING)
def test_6_what_leads_on_comes_late_and_only_into_another_root(feel: str) -> None:
    """In the last two beats, softer than the bar's first note, where the root changes."""
    performance, seen = song(feel), 0
    for bar, following in pairwise(performance.bars):
        own = bar_notes(performance, bar)
        leading = [n for n in own if n.origin.role is Role.APPROACH]
        if not leading:
            continue
        late = bar.start_tick + bar.length_ticks - max(2 * bar.meter.pulse_ticks, 1440)
        assert min(n.grid_tick for n in leading) >= late, bar.ref
        roots = [each.chords[-1].chord for each in (bar, following)]
        assert roots[0] and roots[1]
        assert roots[0].bass_note.pitch_class != roots[1].bass_note.pitch_class, bar.ref
        if own[0].grid_tick == bar.start_tick:
            assert max(n.velocity for n in leading) < own[0].velocity, bar.ref
        seen += 1
    # Of fifty bars; a bossa stays on root and fifth.
    assert seen >= (1 if feel == "bossa" else 7)


@pytest.mark.parametrize("feel", FEELS)
def test_8_dynamics_have_a_shape(feel: str) -> None:
    """Intro below verse, chorus about 8 above it, the last no softer, a breakdown well below."""
    performance = song(feel)
    heard: dict[tuple[str, int], dict[int, list[int]]] = {}
    for note in performance.part_notes(Part.BASS):
        if note.touch is not Touch.GHOST and note.origin.level:
            ref = note.origin.bar
            strokes = heard.setdefault((ref.section, ref.occurrence), {})
            strokes.setdefault(note.origin.level, []).append(note.velocity)

    def above_verse(section: str, time: int = 1) -> float:
        """Return how much louder strokes of the same level are than in the first verse."""
        verse, other = heard["verse", 1], heard[section, time]
        levels = verse.keys() & other.keys()
        return fmean(fmean(other[level]) - fmean(verse[level]) for level in levels)

    assert above_verse("intro") < 0
    assert 4 <= above_verse("chorus") <= 12
    assert above_verse("chorus", 3) >= above_verse("chorus")
    assert above_verse("breakdown") < -8


@pytest.mark.parametrize("feel", FEELS)
def test_9_the_line_stays_home(feel: str) -> None:
    """Roots in the lowest octave, the rest within the next; nothing over the twelfth fret."""
    performance = song(feel)
    climbs = LIBRARY.feels[feel].climbs
    line = [n for n in performance.part_notes(Part.BASS) if n.touch is not Touch.GHOST]
    roots = [n.pitch for n in line if n.origin.role is Role.ROOT]
    assert roots and min(n.pitch for n in line) >= LOWEST
    assert max(roots) < LOWEST + OCTAVE + climbs
    assert max(n.pitch for n in line) <= LOWEST + 2 * OCTAVE + climbs
    kept = [n for n in line if n.origin.time_keeping]
    high = [n for n in kept if n.pitch > LOWEST + OCTAVE + 7 + climbs]
    assert len(high) * 4 <= len(kept)


@pytest.mark.parametrize("feel", FEELS)
def test_10_endings_end(feel: str) -> None:
    """The last bar has its root and the kick once, on beat 1, and nothing came before its time."""
    performance = song(feel)
    last = performance.bars[-1]
    (note,) = bar_notes(performance, last)
    assert note.grid_tick == last.start_tick and note.pitch % 12 == 0
    kicks = [n for n in bar_notes(performance, last, Part.DRUMS) if n.pitch == KICK]
    assert kicks and kicks[0].grid_tick == last.start_tick
    before = bar_notes(performance, performance.bars[-2])
    assert feel not in WRITTEN or not [n for n in before if n.origin.role is Role.APPROACH]
