"""Properties of charts: any text is a song or an error with a place; what we write is read."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from groove.chart.form import MOST_PLAYED_BARS, unroll
from groove.chart.model import Notation, Song, TabLine
from groove.chart.order import song_form
from groove.chart.parse import parse_chart
from groove.chart.repeats import played_length
from groove.chart.tempo_map import song_tempo_map
from groove.chart.transpose import transpose_song
from groove.chart.write import write_chart
from groove.errors import ChartError
from groove.theory.chords import parse_chord
from groove.theory.pitch import parse_pitch
from tests.strategies_chart import (
    PLAYED_AGAIN,
    charts,
    chord_symbols,
    example_charts,
    grammar_texts,
    mutated_charts,
    sectioned_texts,
)
from tests.strategies_text import any_text

SEMITONES = st.integers(-24, 24)


def lines_of(text: str) -> list[str]:
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")


def read_or_refused(text: str) -> Song | None:
    """Return the song of any text, or None after checking that its error has a place."""
    try:
        return parse_chart(text, source="any.txt")
    except ChartError as error:
        place = error.place
        lines = lines_of(text)
        assert place.source == "any.txt"
        assert 1 <= place.line <= len(lines)
        shown = zip(place.text, lines[place.line - 1], strict=False)
        assert len(place.text) <= len(lines[place.line - 1])
        # Control characters are shown as blanks (test_control_characters).
        assert all(mark in (there, " ") for mark, there in shown)
        assert 1 <= place.column <= len(lines[place.line - 1]) + 1
        assert place.column + place.length <= len(place.text) + 2
        assert error.message and error.hint
        assert len(error.report()) < 1500
        assert f"any.txt:{place.line}:{place.column}: {error.message}" in error.report()
        return None


def check_song(song: Song) -> None:
    """Check what holds for every song that was read."""
    bars = unroll(song)
    lengths = {section.name: played_length(section.bars) for section in song.sections}
    count = sum(lengths[step.section] * step.times for step in song_form(song))
    again = PLAYED_AGAIN.get(song.sections[-1].name, 0)
    assert len(bars) == count + again + bool(song.pickup)
    assert count <= MOST_PLAYED_BARS
    for bar in bars:
        assert sum(span.length_quarters for span in bar.chords) == bar.length_quarters
        assert all(span.length_quarters > 0 for span in bar.chords)
    for before, bar in pairwise(bars):
        assert bar.start_quarters == before.start_quarters + before.length_quarters
    numbers = [bar.ref.played_bar for bar in bars]
    assert numbers == list(range(numbers[0], numbers[0] + len(bars)))
    assert song_tempo_map(song, bars, scale=Fraction(1)).changes[0].tick == 0
    assert parse_chart(write_chart(song)) == song


@given(any_text(200))
def test_any_text_is_a_song_or_an_error_with_a_place(text: str) -> None:
    song = read_or_refused(text)
    if song:
        check_song(song)


@settings(max_examples=80)
@given(grammar_texts | sectioned_texts)
def test_any_pieces_of_charts_are_a_song_or_an_error_with_a_place(text: str) -> None:
    song = read_or_refused(text)
    if song:
        check_song(song)


@settings(max_examples=80)
@given(mutated_charts())
def test_a_chart_typed_wrong_is_a_song_or_an_error_with_a_place(text: str) -> None:
    song = read_or_refused(text)
    if song:
        check_song(song)


@settings(max_examples=12)
@given(charts())
def test_a_chart_by_letter_is_read_and_written_again(text: str) -> None:
    check_song(parse_chart(text))


@settings(max_examples=12)
@given(charts(numbers=True))
def test_a_chart_in_numbers_is_read_and_written_again(text: str) -> None:
    song = parse_chart(text)
    assert song.notation is Notation.NUMBERS
    check_song(song)


@settings(max_examples=12)
@given(charts(own_lines=True) | charts(numbers=True, own_lines=True))
def test_a_chart_with_lines_of_its_own_is_read_and_written_again(text: str) -> None:
    check_song(parse_chart(text))


@settings(max_examples=8)
@given(charts())
def test_indentation_blank_lines_and_case_mean_nothing(text: str) -> None:
    lines = text.split("\n")
    heads = [line.partition(":")[0] for line in lines]
    shouted = [
        f"   {line.replace(head, head.upper(), 1)}\t" if "|" not in line else f"\t {line}"
        for line, head in zip(lines, heads, strict=True)
    ]
    assert write_chart(parse_chart("\r\n\n".join(shouted))).casefold() == (
        write_chart(parse_chart(text)).casefold()
    )


def sounding(song: Song) -> list[tuple[frozenset[int], int] | None]:
    """Return the pitch classes and the bass of every chord played."""
    return [
        (span.chord.pitch_classes, span.chord.bass_note.pitch_class) if span.chord else None
        for bar in unroll(song)
        for span in bar.chords
    ]


@settings(max_examples=12)
@given(charts() | charts(numbers=True), SEMITONES)
def test_up_and_down_again_sounds_the_same(text: str, semitones: int) -> None:
    song = parse_chart(text)
    there = transpose_song(song, semitones)
    moved = [
        heard and (frozenset((pc + semitones) % 12 for pc in heard[0]), (heard[1] + semitones) % 12)
        for heard in sounding(song)
    ]
    assert sounding(there) == moved
    assert parse_chart(write_chart(there)) == there
    assert sounding(transpose_song(there, -semitones)) == sounding(song)


def written_pitches(song: Song) -> list[int]:
    """Return the pitches of all that is written under the bars played, ghosts left out."""
    found: list[int] = []
    for bar in unroll(song):
        if isinstance(bar.line, TabLine):
            found += [note.pitch for note in bar.line.notes if note.pitch is not None]
        elif bar.line:
            tokens = [slot.token for slot in bar.line.slots if slot.token.startswith("@")]
            found += [parse_pitch(token[1:]) for token in tokens]
    return found


@settings(max_examples=12)
@given(charts(own_lines=True), st.integers(-5, 5))
def test_what_is_written_under_bars_moves_with_the_song(text: str, semitones: int) -> None:
    song = parse_chart(text)
    there = transpose_song(song, semitones)
    assert written_pitches(there) == [pitch + semitones for pitch in written_pitches(song)]
    assert parse_chart(write_chart(there)) == there


@settings(max_examples=100)
@given(chord_symbols)
def test_a_symbol_is_refused_or_read_back_from_what_we_write(text: str) -> None:
    try:
        chord = parse_chord(text)
    except ValueError:
        return
    again = parse_chord(chord.symbol)
    assert again == chord
    assert chord.root in chord.tones or "no" in text
    assert 1 <= len(chord.pitch_classes) <= 12


def test_the_example_charts_are_read_unrolled_and_written_again() -> None:
    texts = example_charts()
    for text in texts:
        check_song(parse_chart(text))
    assert len(texts) >= 7
