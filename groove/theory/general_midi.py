"""General MIDI: drum keys and programs, by the names that cells and options use.

Numbers and printed names are those of *General MIDI System Level 1* (MIDI Manufacturers
Association): drum keys 35 to 81 on channel 10, programs counted from 0 (printed charts add 1).
The short names are the trade's, in lower case without spaces, so that a TOML row can carry them.
"""

from msgspec import Struct

DRUM_CHANNEL = 10
"""The channel (1-16) on which a key is a drum and a program is a kit."""


class DrumKey(Struct, frozen=True):
    """One drum of the table: the MIDI key, our short name, the name that the standard prints."""

    key: int
    stroke: str
    printed: str


DRUM_TABLE = (
    DrumKey(35, "low_kick", "Acoustic Bass Drum"),
    DrumKey(36, "kick", "Bass Drum 1"),
    DrumKey(37, "side_stick", "Side Stick"),
    DrumKey(38, "snare", "Acoustic Snare"),
    DrumKey(39, "clap", "Hand Clap"),
    DrumKey(40, "electric_snare", "Electric Snare"),
    DrumKey(41, "floor_tom", "Low Floor Tom"),
    DrumKey(42, "hat", "Closed Hi-Hat"),
    DrumKey(43, "high_floor_tom", "High Floor Tom"),
    DrumKey(44, "pedal_hat", "Pedal Hi-Hat"),
    DrumKey(45, "low_tom", "Low Tom"),
    DrumKey(46, "open_hat", "Open Hi-Hat"),
    DrumKey(47, "mid_tom", "Low-Mid Tom"),
    DrumKey(48, "high_mid_tom", "Hi-Mid Tom"),
    DrumKey(49, "crash", "Crash Cymbal 1"),
    DrumKey(50, "high_tom", "High Tom"),
    DrumKey(51, "ride", "Ride Cymbal 1"),
    DrumKey(52, "china", "Chinese Cymbal"),
    DrumKey(53, "ride_bell", "Ride Bell"),
    DrumKey(54, "tambourine", "Tambourine"),
    DrumKey(55, "splash", "Splash Cymbal"),
    DrumKey(56, "cowbell", "Cowbell"),
    DrumKey(57, "crash_2", "Crash Cymbal 2"),
    DrumKey(58, "vibraslap", "Vibraslap"),
    DrumKey(59, "ride_2", "Ride Cymbal 2"),
    DrumKey(60, "high_bongo", "Hi Bongo"),
    DrumKey(61, "low_bongo", "Low Bongo"),
    DrumKey(62, "mute_conga", "Mute Hi Conga"),
    DrumKey(63, "high_conga", "Open Hi Conga"),
    DrumKey(64, "low_conga", "Low Conga"),
    DrumKey(65, "high_timbale", "High Timbale"),
    DrumKey(66, "low_timbale", "Low Timbale"),
    DrumKey(67, "high_agogo", "High Agogo"),
    DrumKey(68, "low_agogo", "Low Agogo"),
    DrumKey(69, "cabasa", "Cabasa"),
    DrumKey(70, "maracas", "Maracas"),
    DrumKey(71, "short_whistle", "Short Whistle"),
    DrumKey(72, "long_whistle", "Long Whistle"),
    DrumKey(73, "short_guiro", "Short Guiro"),
    DrumKey(74, "long_guiro", "Long Guiro"),
    DrumKey(75, "claves", "Claves"),
    DrumKey(76, "high_block", "Hi Wood Block"),
    DrumKey(77, "low_block", "Low Wood Block"),
    DrumKey(78, "mute_cuica", "Mute Cuica"),
    DrumKey(79, "open_cuica", "Open Cuica"),
    DrumKey(80, "mute_triangle", "Mute Triangle"),
    DrumKey(81, "open_triangle", "Open Triangle"),
)

DRUM_KEYS = {drum.stroke: drum.key for drum in DRUM_TABLE}
"""MIDI key by short name, as a drum cell's rows have it: ``kick`` is 36."""

DRUM_STROKES = {drum.key: drum.stroke for drum in DRUM_TABLE}
"""Short name by MIDI key, the inverse of ``DRUM_KEYS``."""

OLD_STROKES = {"rim": "side_stick", "shaker": "cabasa"}
"""Short names of before, which charts and cells of players may still have, as they are now.

A rim shot is another stroke, and the standard's 69 is a cabasa: it has no shaker.
"""

STROKE_NAMES = {
    **{drum.stroke.replace("_", " "): drum.stroke for drum in DRUM_TABLE},
    **{drum.printed.casefold(): drum.stroke for drum in DRUM_TABLE},
    **OLD_STROKES,
    **{
        "closed hat": "hat",
        "hi-hat": "hat",
        "hihat": "hat",
        "bass drum": "kick",
        "cross stick": "side_stick",
    },
}
"""Short name by what a player calls a stroke, in small letters."""


def find_stroke(name: str) -> str | None:
    """Return the short name of a stroke as a player calls it, None where there is none."""
    return STROKE_NAMES.get(" ".join(name.casefold().replace("_", " ").split()))


COUNT_IN_KEY = DRUM_KEYS["side_stick"]
"""The sticks that count a song in (common practice, no source)."""


class Program(Struct, frozen=True):
    """One sound of the table: its number from 0, our short name, the name the standard prints."""

    number: int
    name: str
    printed: str


PROGRAM_TABLE = (
    Program(0, "piano", "Acoustic Grand Piano"),
    Program(4, "electric_piano", "Electric Piano 1"),
    Program(5, "bright_electric_piano", "Electric Piano 2"),
    Program(16, "organ", "Drawbar Organ"),
    Program(24, "nylon_guitar", "Acoustic Guitar (nylon)"),
    Program(25, "steel_guitar", "Acoustic Guitar (steel)"),
    Program(26, "jazz_guitar", "Electric Guitar (jazz)"),
    Program(27, "clean_guitar", "Electric Guitar (clean)"),
    Program(28, "muted_guitar", "Electric Guitar (muted)"),
    Program(32, "upright_bass", "Acoustic Bass"),
    Program(33, "finger_bass", "Electric Bass (finger)"),
    Program(34, "pick_bass", "Electric Bass (pick)"),
    Program(35, "fretless_bass", "Fretless Bass"),
    Program(36, "slap_bass", "Slap Bass 1"),
    Program(38, "synth_bass", "Synth Bass 1"),
    Program(48, "strings", "String Ensemble 1"),
    Program(89, "warm_pad", "Pad 2 (warm)"),
)
"""The sounds that a bass or keys part may ask for."""

BASS_PROGRAMS = range(32, 40)
"""The programs (from 0) that the first standard groups as Bass."""

BASS_TONES = {
    program.name.removesuffix("_bass"): program.number
    for program in PROGRAM_TABLE
    if program.name.endswith("_bass")
}
BASS_TONES["muted"] = BASS_TONES["finger"]
"""Program number (from 0) by what a bass player calls the sound: ``finger`` is 33.

The standard has no muted bass: it is a finger bass whose notes are short.
"""


def tone_of(program: int) -> str:
    """Return what a bass player calls a program (from 0), empty where there is no word for it."""
    return next((tone for tone, number in BASS_TONES.items() if number == program), "")
