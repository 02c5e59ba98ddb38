"""Drum keys and programs against General MIDI as two libraries and the printed table have it."""

from typing import Any

import pretty_midi
from music21 import instrument
from music21.midi.percussion import MIDIPercussionException, PercussionMapper

from groove.theory.general_midi import (
    COUNT_IN_KEY,
    DRUM_CHANNEL,
    DRUM_KEYS,
    DRUM_STROKES,
    DRUM_TABLE,
    PROGRAM_TABLE,
)
from tests.midi_support import table

PRINTED = table("general_midi")


def test_drum_table_is_the_printed_one() -> None:
    """General MIDI System Level 1, p. 6."""
    assert len(PRINTED["drum_keys"]) == 47
    assert [[drum.key, drum.printed] for drum in DRUM_TABLE] == PRINTED["drum_keys"]
    assert PRINTED["drum_channel"] == DRUM_CHANNEL


def test_drum_names_agree_with_pretty_midi() -> None:
    """pretty_midi, constants.DRUM_MAP; it prints Hi Hat without the hyphen."""
    compared = [
        pretty_midi.note_number_to_drum_name(drum.key) == drum.printed.replace("-Hat", " Hat")
        for drum in DRUM_TABLE
    ]
    assert compared == [True] * 47


# music21's class for each family of drums, by the words that the printed name has.
DRUM_FAMILIES = {
    "BassDrum": {"bass", "drum"},
    "SnareDrum": {"snare"},
    "TomTom": {"tom"},
    "HiHatCymbal": {"hi", "hat"},
    "CrashCymbals": {"crash", "cymbal"},
    "BongoDrums": {"bongo"},
    "CongaDrum": {"conga"},
    "Timbales": {"timbale"},
    "Agogo": {"agogo"},
    "Whistle": {"whistle"},
    "Woodblock": {"wood", "block"},
    "Triangle": {"triangle"},
    "Tambourine": {"tambourine"},
    "Cowbell": {"cowbell"},
    "Vibraslap": {"vibraslap"},
    "Maracas": {"maracas"},
}


def _music21_words(key: int) -> set[str]:
    """Return the words that music21 has for a drum key: its family's and its modifier's."""
    mapper: Any = PercussionMapper()
    drum = mapper.midiPitchToInstrument(key)
    modifier = getattr(drum, "modifier", None) or ""
    words = set(modifier.replace("high", "hi").replace("-", " ").split())
    # The side stick is a stroke on the snare drum, and printed without it.
    return words | (set() if modifier == "side" else DRUM_FAMILIES[type(drum).__name__])


def test_drum_names_agree_with_music21() -> None:
    """music21, midi.percussion: the General MIDI map, as far as it has instruments (35 of 47)."""
    compared = 0
    for drum in DRUM_TABLE:
        try:
            words = _music21_words(drum.key)
        except MIDIPercussionException:
            continue
        printed = set(drum.printed.lower().replace("high", "hi").replace("-", " ").split())
        assert words <= printed, drum
        compared += 1
    assert compared == 35


def test_our_strokes_stand_for_the_printed_keys() -> None:
    """Our words beside those of pretty_midi's table (the pairing: common practice, no source)."""
    outside = {
        pretty_midi.note_number_to_drum_name(key).replace("Hi Hat", "Hi-Hat"): key
        for key in range(35, 82)
    }
    assert len(PRINTED["strokes"]) == 22
    for stroke, printed in PRINTED["strokes"]:
        assert DRUM_KEYS[stroke] == outside[printed], stroke


def test_strokes_are_one_to_one_and_fit_a_toml_row() -> None:
    assert len(DRUM_KEYS) == len(DRUM_STROKES) == 47
    assert all(DRUM_STROKES[DRUM_KEYS[stroke]] == stroke for stroke in DRUM_KEYS)
    assert all(stroke.replace("_", "").isalnum() and stroke.islower() for stroke in DRUM_KEYS)


def test_song_is_counted_in_with_sticks() -> None:
    """Key 37 is the side stick in pretty_midi's table."""
    assert pretty_midi.note_number_to_drum_name(COUNT_IN_KEY) == "Side Stick"


def test_programs_agree_with_pretty_midi_and_the_printed_table() -> None:
    """pretty_midi, constants.INSTRUMENT_MAP; General MIDI System Level 1, sound set."""
    printed = dict(PRINTED["programs"])
    assert len(PROGRAM_TABLE) == 17
    for program in PROGRAM_TABLE:
        assert printed[program.number] == program.printed
        assert pretty_midi.program_to_instrument_name(program.number) == program.printed


# music21's class for each program, by the family that our short name claims.
FAMILIES = {
    "piano": "Piano",
    "electric_piano": "ElectricPiano",
    "bright_electric_piano": "ElectricPiano",
    "organ": "ElectricOrgan",
    "nylon_guitar": "AcousticGuitar",
    "steel_guitar": "AcousticGuitar",
    "jazz_guitar": "ElectricGuitar",
    "clean_guitar": "ElectricGuitar",
    "muted_guitar": "ElectricGuitar",
    "upright_bass": "AcousticBass",
    "finger_bass": "ElectricBass",
    "pick_bass": "ElectricBass",
    "fretless_bass": "FretlessBass",
    "slap_bass": "ElectricBass",
    "synth_bass": "ElectricBass",
    "strings": "StringInstrument",
    "warm_pad": "Sampler",
}


def test_programs_agree_with_music21() -> None:
    """music21, instrument.MIDI_PROGRAM_TO_INSTRUMENT (synthesiser pads are its Sampler)."""
    assert len(FAMILIES) == len(PROGRAM_TABLE) == 17
    for program in PROGRAM_TABLE:
        judged = instrument.instrumentFromMidiProgram(program.number)
        assert type(judged).__name__ == FAMILIES[program.name]
