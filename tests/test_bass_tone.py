"""The sound of the bass, from the chart to every output that has one.

Judges: pretty_midi's table of the General MIDI level 1 sound set for names and numbers, mido for
what a MIDI file says, the standard library's XML reader for MusicXML.
"""

import io
from xml.etree import ElementTree

import mido
import numpy as np
import pretty_midi
import pytest

from groove import make_sheet, midi_bytes, parse_chart, render_audio
from groove.cells.model import Library
from groove.events import Part, Performance
from groove.page.sounds import needed_sounds, sounds_in_a_row
from groove.pipeline import perform_chart
from groove.theory.general_midi import tone_of

# What a bass player calls the sound, and the standard's name; a muted bass it has not.
NAMES = {
    "finger": "Electric Bass (finger)",
    "pick": "Electric Bass (pick)",
    "slap": "Slap Bass 1",
    "muted": "Electric Bass (finger)",
    "fretless": "Fretless Bass",
    "upright": "Acoustic Bass",
}
BASS_CHANNEL = 1


def number(tone: str) -> int:
    """Return the program of a tone from 0, by another library's table."""
    return int(pretty_midi.instrument_name_to_program(NAMES[tone]))


def chart(tone: str, feel: str = "octaves") -> str:
    """Return a song of two sections that asks for a tone in its head."""
    head = f"title: Tone\ntempo: 120\nkey: A\nfeel: {feel}\n"
    return f"{head}bass tone: {tone}\nverse:\n| A | D |\nend:\n  feel: walking\n  | A |\n"


def bass_programs(performance: Performance) -> list[int]:
    """Return every program that the bass's channel is told in a MIDI file, by mido."""
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(performance)))
    return [
        message.program
        for track in file.tracks
        for message in track
        if message.type == "program_change" and message.channel == BASS_CHANNEL
    ]


@pytest.mark.parametrize("tone", NAMES)
def test_a_midi_file_has_the_tone_once_for_the_song(library: Library, tone: str) -> None:
    """Another feel in the second section changes nothing: a player keeps the bass."""
    assert bass_programs(perform_chart(chart(tone), library)) == [number(tone)]


def test_without_a_tone_the_feel_has_its_own(library: Library) -> None:
    """Common practice, no source: upright where the style grew up on it, pick in driving rock."""
    wanted = {
        "walking": "upright",
        "bossa": "upright",
        "straight eighths": "pick",
        "soul": "finger",
        "one-chord funk": "slap",
    }
    found = {
        feel: bass_programs(perform_chart(f"feel: {feel}\na:\n| A |\n", library)) for feel in wanted
    }
    assert found == {feel: [number(tone)] for feel, tone in wanted.items()}


def test_what_a_program_is_called(library: Library) -> None:
    """Each feel's own has a word; a second slap bass (program 37 from 0) has none."""
    assert {tone_of(number(tone)) for tone in NAMES} == set(NAMES) - {"muted"}
    assert tone_of(int(pretty_midi.instrument_name_to_program("Slap Bass 2"))) == ""
    assert all(tone_of(feel.bass_program) in NAMES for feel in library.feels.values())


@pytest.mark.parametrize("tone", ["pick", "fretless"])
def test_musicxml_names_the_program_counted_from_one(library: Library, tone: str) -> None:
    """MusicXML 4.0: midi-program is 1 to 128."""
    root = ElementTree.fromstring(make_sheet(parse_chart(chart(tone)), library=library).musicxml())
    found = [int(each.text or "") for each in root.iter("midi-program")]
    assert found == [number(tone) + 1]


def test_the_practice_page_takes_its_sounds_from_the_tone(library: Library) -> None:
    performance = perform_chart(chart("slap"), library)
    assert bass_programs(sounds_in_a_row(needed_sounds(performance), performance)) == [
        number("slap")
    ]


def test_audio_has_the_tone(library: Library) -> None:
    stems = {}
    for tone in ("finger", "upright", "muted"):
        song = perform_chart(f"tempo: 160\nbass tone: {tone}\na:\n| A |\n", library)
        stems[tone] = render_audio(song).stems[Part.BASS]
    assert stems["finger"].shape == stems["upright"].shape
    assert not np.array_equal(stems["finger"], stems["upright"])
    energy = {tone: float((stem**2).sum()) for tone, stem in stems.items()}
    assert 0 < energy["muted"] < 0.8 * energy["finger"]


def test_muted_is_short_and_only_the_bass_is(library: Library) -> None:
    plain, muted = (perform_chart(chart(tone), library) for tone in ("finger", "muted"))
    assert plain.part_notes(Part.DRUMS) == muted.part_notes(Part.DRUMS)
    assert plain.part_notes(Part.KEYS) == muted.part_notes(Part.KEYS)
    pairs = list(zip(plain.part_notes(Part.BASS), muted.part_notes(Part.BASS), strict=True))
    assert len(pairs) > 16
    assert [a.pitch for a, _ in pairs] == [b.pitch for _, b in pairs]
    assert all(b.length_ticks < 0.7 * a.length_ticks for a, b in pairs)
