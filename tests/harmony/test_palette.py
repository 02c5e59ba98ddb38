"""What works where, by style: common practice, no source, and the definitions read by hand.

Safe notes are the chord's own, notes to avoid lie a half step above one of them, colours are the
rest of the scales that are told; a note outside the key has its reason.
"""

import re
from random import Random

import pytest

from groove.cells.model import Style
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.palette import chord_palette, song_style
from groove.io.library import load_library
from groove.pipeline import perform_chart
from groove.text.neck_map import working_notes_text
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key


def style_of(bars: str, of_feel: Style | None = None) -> Style:
    return song_style(analyse(parse_chart(f"key: C\nverse:\n| {bars} |\n")), of_feel)


@pytest.mark.parametrize(
    ("bars", "of_feel", "style"),
    [
        ("C7 | C7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | C7 | G7", None, Style.BLUES),
        ("C7 | F7 | C7 | C7 | F7 | F7 | C7 | A7 | Dm7 | G7 | C7 | G7", Style.JAZZ, Style.BLUES),
        ("C | F | G | C", Style.ROCK, Style.ROCK),
        ("Cmaj7 | A7 | Dm7 | G7", Style.POP, Style.POP),
        ("C5 | Eb5 | F5 | C5", Style.BLUES, Style.BLUES),
        ("C | F | G | C", None, Style.POP),
        ("C5 | Eb5 | F5 | C5", None, Style.ROCK),
        ("Cmaj7 | A7 | Dm7 | G7", None, Style.JAZZ),
        ("C | F | G7 | C", None, Style.POP),
        # Most chords are sevenths, or some are fifths alone: shares are common practice, no source.
        ("Cmaj7 | Am7 | Dm7 | G", None, Style.JAZZ),
        ("Cmaj7 | Am7 | F | G", None, Style.POP),
        ("A5 | D | A | D", None, Style.ROCK),
    ],
)
def test_the_style_of_a_songs_notes(bars: str, of_feel: Style | None, style: Style) -> None:
    assert style_of(bars, of_feel) is style


BY_WORD = {
    "blues": Style.BLUES, "boogie": Style.BLUES, "rock": Style.ROCK, "punk": Style.ROCK,
    "metal": Style.ROCK, "funk": Style.ROCK, "jazz": Style.JAZZ, "swing": Style.JAZZ,
    "bebop": Style.JAZZ, "pop": Style.POP, "folk": Style.POP, "country": Style.POP,
}  # fmt: skip
"""Words that a feel is called by first, and whose notes are meant (common practice, no source)."""


def test_a_feel_takes_the_notes_of_the_style_that_it_is_called_by_first() -> None:
    compared = 0
    for feel in load_library().feels.values():
        if feel.also[0] in BY_WORD:
            assert feel.style is BY_WORD[feel.also[0]], feel.name
            compared += 1
    assert compared >= 8


@pytest.mark.parametrize(
    ("symbol", "key", "style", "scales"),
    [
        ("A7", "A", Style.BLUES, "A blues scale; A major pentatonic"),
        ("D7", "A", Style.BLUES, "A blues scale; D major pentatonic"),
        ("Am7", "A minor", Style.BLUES, "A blues scale; A minor pentatonic"),
        ("G5", "E minor", Style.ROCK, "E minor pentatonic; E blues scale"),
        ("C", "E minor", Style.ROCK, "E minor pentatonic; E blues scale"),
        ("D", "D", Style.ROCK, "D major pentatonic; D blues scale"),
        ("B7", "E minor", Style.ROCK, "B phrygian dominant; E minor pentatonic; E blues scale"),
        ("F", "C", Style.POP, "C major pentatonic"),
        ("Fm6", "C", Style.POP, "F melodic minor; C major pentatonic"),
        ("Fmaj7", "C", Style.JAZZ, "F lydian"),
        ("Dm7", "C", Style.JAZZ, "D dorian"),
        ("Db7", "C", Style.JAZZ, "D♭ lydian dominant"),
    ],
)
def test_which_scales_come_first(symbol: str, key: str, style: Style, scales: str) -> None:
    palette = chord_palette(parse_chord(symbol), parse_key(key), style)
    assert "; ".join(scale.name for scale in palette.scales) == scales


def test_pentatonics_and_the_blues_scale_by_their_half_steps() -> None:
    # Hutchinson, Table 31.9.4, for the blues scale; the others from memory of any method book.
    palette = chord_palette(parse_chord("E5"), parse_key("E minor"), Style.ROCK)
    steps = [[(n.pitch_class - 4) % 12 for n in scale.notes] for scale in palette.scales]
    assert steps == [[0, 3, 5, 7, 10], [0, 3, 5, 6, 7, 10]]
    major = chord_palette(parse_chord("C"), parse_key("C"), Style.POP).scales[0]
    assert [n.pitch_class for n in major.notes] == [0, 2, 4, 7, 9]


def test_notes_are_safe_colour_or_to_avoid_by_the_definition() -> None:
    rng = Random("palette")
    suffixes = ("", "m", "7", "m7", "maj7", "m7b5", "°7", "5", "sus4", "6", "m6", "9", "7b9")
    roots = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    compared = outside = 0
    for _ in range(1200):
        key = parse_key(rng.choice(roots) + rng.choice((" major", " minor", " dorian")))
        chord = parse_chord(rng.choice(roots) + rng.choice(suffixes))
        style = rng.choice(list(Style))
        palette = chord_palette(chord, key, style)
        own = set(chord.pitch_classes)
        told = {note.pitch_class for scale in palette.scales for note in scale.notes}
        # Blues scale, Hutchinson, Table 31.9.4: 1 b3 4 b5 5 b7; blue are those outside the key.
        tonic = key.tonic.pitch_class
        has_blues = style in (Style.ROCK, Style.BLUES)
        blues = {(tonic + step) % 12 for step in (0, 3, 5, 6, 7, 10)} if has_blues else set()
        avoid = {n for n in told - own - (blues - set(key.pitch_classes)) if (n - 1) % 12 in own}
        assert {n.pitch_class for n in palette.safe} == own
        assert {n.pitch_class for n in palette.avoid} == avoid
        assert {n.pitch_class for n in palette.colour} == told - own - avoid
        for scale in palette.scales:
            foreign = {n.pretty for n in scale.notes if n.pitch_class not in key.pitch_classes}
            assert foreign == set(re.findall(r"\b[A-G][♯♭𝄪𝄫]*(?= |$)", scale.reason)), scale.reason
            outside += len(foreign)
        compared += 1
    assert compared == 1200
    assert outside >= 1000


def test_a_rock_tune_in_a_minor_key_keeps_to_its_notes() -> None:
    # No C sharp over G5 (G lydian) in an E minor tune, also where its A chord makes it dorian.
    song = parse_chart("verse:\n| E5 | G5 | A | E5 |\n| Em | D | A | Em |\n")
    text = working_notes_text(analyse(song), style=Style.ROCK)
    (block,) = [b for b in text.split("\n\n") if b.startswith("G5")]
    assert "E minor pentatonic" in block
    assert "lydian" not in text
    scales = [line for line in block.splitlines() if "scale: " in line or "  or: " in line]
    assert [line for line in scales if "C♯" in line] == []


def test_the_songs_own_line_is_the_first_example() -> None:
    chart = "key: D\ntempo: 90\nverse:\n| D | A7 |\nbass | R - 3 - 5 - 8 - | R 5 b7 R 5 b7 R 5 |\n"
    performance = perform_chart(chart, load_library())
    line = [note for note in performance.notes if note.part.value == "bass"]
    text = working_notes_text(analyse(parse_chart(chart)), line=line)
    # The tokens' degrees by hand: of D its third, fifth, octave; of A7 its fifth and seventh.
    assert "  in the song: D F♯ A D   bar 1\n" in text
    assert "  in the song: A E G A E G A E   bar 2\n" in text


def test_a_chart_of_numbers_is_told_in_letters() -> None:
    text = working_notes_text(
        analyse(parse_chart("key: G\nchords: numbers\nverse:\n| 1 | 6- | 2-7 | 5 |\n"))
    )
    heads = [
        line.split(":")[0] for line in text.splitlines() if line[:1] in "GEAD" and "bar" in line
    ]
    assert heads == ["G", "Em", "Am7", "D"]
    assert "  into Em: " in text


def test_a_blue_note_that_is_offered_is_not_to_be_avoided() -> None:
    """G over B in D major, in rock: D F G A flat A C, whose A flat and C lie above G and B."""
    chord = parse_chord("G/B")
    rock = chord_palette(chord, parse_key("D"), Style.ROCK)
    assert {"A♭", "C", "F"} <= {n.pretty for n in rock.colour}
    assert rock.avoid == ()
    pop = chord_palette(chord, parse_key("D"), Style.POP)
    assert "blues" not in " ".join(scale.name for scale in pop.scales)
