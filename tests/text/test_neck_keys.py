"""The bass part in all twelve keys: what each asks of the hand."""

from dataclasses import asdict

import music21
import pytest

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.events import Part
from groove.neck.fingering import finger_line
from groove.neck.instrument import LONG_SCALE_MM, STANDARD
from groove.neck.line_figures import fingering_figures
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, perform_song
from groove.text.neck_keys import figures_by_key, keys_data, keys_text
from groove.theory.keys import parse_key

TWO_PLACES = """
title: Two Steps
tempo: 80
key: A
drums: out
keys: out
verse:
  | A | A |
  G |-----------------|-----------------|
  D |-----------------|-----------------|
  A |-----------------|-----------------|
  E |-{a}---{a}---{b}---{b}---|-{a}---{a}---{b}---{b}---|
"""


def test_all_twelve_keys_as_each_is_played_alone(library: Library) -> None:
    """A sweep of one song; music21 counts the half steps between the keys' tonics."""
    song = parse_chart(
        "key: C\nfeel: octaves\nverse:\n| C | Am7 | F/A | <G7 | Em7 | A7 | Dm | G |\n"
    )
    ways = list(figures_by_key(song, library, PerformOptions(tight=True), NeckOptions()))
    assert len({way.key.tonic.pitch_class for way in ways}) == 12
    written = music21.key.Key("C").tonic
    for way in ways:
        name = way.key.tonic.name.replace("b", "-")
        tonic = music21.pitch.Pitch(name)
        assert (tonic.pitchClass - written.pitchClass - way.semitones) % 12 == 0
    (fifth_up,) = (way for way in ways if way.semitones == -5)
    options = PerformOptions(tight=True, key=parse_key("G"))
    performance = perform_song(song, library, options)
    bass = performance.part_notes(Part.BASS)
    line = finger_line(bass, tempo_map=performance.tempo_map, tuning=STANDARD)
    assert fifth_up.figures == fingering_figures(line)


def test_frets_lie_closer_up_the_neck(library: Library) -> None:
    """The same shift n frets higher is shorter by 2^(-n/12), the rule by which frets are cut.

    One string alone, from fret 3 to 9 and back: that is a shift wherever the line is moved to.
    """
    song = parse_chart(TWO_PLACES.format(a="3", b="9"))
    ways = {
        way.semitones: way.figures
        for way in figures_by_key(song, library, PerformOptions(tight=True), NeckOptions())
    }
    at_home = ways[0]
    assert at_home and at_home.shifts > 2
    compared = 0
    for semitones in range(1, 7):
        figures = ways[semitones]
        assert figures and figures.shifts == at_home.shifts
        assert figures.travel_mm == pytest.approx(at_home.travel_mm * 2 ** (-semitones / 12))
        compared += 1
    assert compared == 6
    assert at_home.travel_mm < at_home.shifts * LONG_SCALE_MM / 2


def test_a_key_that_the_bass_lacks_says_so(library: Library) -> None:
    """Open E is the lowest note of a four-string: what is written there cannot go down."""
    song = parse_chart(TWO_PLACES.format(a="0", b="7"))
    ways = list(figures_by_key(song, library, PerformOptions(tight=True), NeckOptions()))
    assert [way.semitones for way in ways if way.figures is None] == [-5, -4, -3, -2, -1]
    told = keys_text(ways, title=song.title).splitlines()
    assert all("not on the neck" in line for line in told[3:8])
    assert "problem" in keys_data(ways)["keys"][0]
    assert keys_data(ways)["keys"][5]["shifts"] == asdict(ways[5])["figures"]["shifts"]


def test_what_cannot_be_played_as_asked_is_an_error(library: Library) -> None:
    song = parse_chart(TWO_PLACES.format(a="0", b="7"))
    with pytest.raises(ChartError, match="not on the neck"):
        list(figures_by_key(song, library, PerformOptions(tight=True, transpose=-1), NeckOptions()))
