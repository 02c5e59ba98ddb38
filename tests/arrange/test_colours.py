"""Which notes beside root, fifth and octave a bass leans on, over random chords in random keys.

The rules are common practice, no source; chord tones are mir_eval's, scales are printed ones.
"""

from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise
from random import Random

from groove.events import Note, PitchRule, Reason, Role
from tests.arrange.random_songs import (
    KEYS,
    NAMES,
    SHORTHAND,
    TRIADS,
    chord_classes,
    progression,
    root_class,
)
from tests.arrange.songs import METERS, chart, play_bass, struck

MAJOR, NATURAL_MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10)
SHARPS = {"C#": 1, "F#": 6}
FEELS = (
    *("soul", "sixteenths", "broken sixteenths", "half-time", "octaves", "one drop", "shuffle"),
    *("slow twelve-eight", "ballad", "six-eight", "five-four", "straight eighths", "bossa"),
    *(
        "half-time shuffle",
        "second line",
        "gospel twelve-eight",
        "ska",
        "cha-cha",
        "one-chord funk",
    ),
    *("driving eighths", "laid-back sixteenths", "bolero", "samba", "swing in two"),
)
ROOT_AND_FIFTH = ("ballad", "six-eight", "bossa", "bolero", "samba", "swing in two", "ska")
"""Feels of two or three notes a bar, of which one or two are the fifth; and one that runs."""
LEADING = (Role.APPROACH, Role.FILL)
EARLY = Reason(PitchRule.EARLY)


def key_classes(key: str) -> frozenset[int]:
    """Return the pitch classes of a key by the printed scale of its mode."""
    tonic, _, mode = key.partition(" ")
    start = SHARPS[tonic] if tonic in SHARPS else NAMES.index(tonic)
    return frozenset((start + step) % 12 for step in (NATURAL_MINOR if mode else MAJOR))


@lru_cache(maxsize=512)
def played(
    feel: str,
    seed: int,
    qualities: tuple[str, ...] = tuple(SHORTHAND),
    *,
    over_slashes: bool = False,
) -> tuple[list[str], str, list[Note]]:
    """Return the chords, the key and the line of a random song of one feel; most over slashes."""
    random = Random(f"{feel}{seed}")
    key = random.choice(KEYS)
    bars = progression(random, 40, qualities=qualities)
    slashes = [bar for bar in bars if "/" in bar][:6]
    bars = bars[:8] if not over_slashes else [*slashes, *bars[: 8 - len(slashes)]]
    text = chart({"verse": [*bars, "C"]}, feel=feel, head=f"meter: {METERS[feel]}")
    return bars, key, struck(play_bass(text.replace("key: D", f"key: {key}")))


def stated(line: list[Note], bars: list[str]) -> Iterator[tuple[str, Note]]:
    """Yield (chord, note) for what states a chord: neither an approach nor early for the next."""
    for note in line:
        bar = note.origin.bar.played_bar
        if bar <= len(bars) and note.origin.role not in LEADING and note.origin.reason != EARLY:
            yield bars[bar - 1], note


def test_a_minor_seventh_chord_takes_its_seventh_for_a_sixth() -> None:
    colours = []
    for seed in range(24):
        for feel, tick, length in (("soul", 1920, 3840), ("slow twelve-eight", 4320, 5760)):
            bars, _, line = played(feel, seed, ("m7",))
            colours += [
                (note.pitch - root_class(symbol)) % 12
                for symbol, note in stated(line, bars)
                if note.grid_tick % length == tick
                and "/" not in symbol
                # The second bar answers with another degree.
                and note.origin.bar.bar_in_section % 2
            ]
    assert len(colours) > 140
    # min7 by mir_eval has the minor seventh; the fifth ends a phrase in twelve, and the root stands
    # for either where it would leap to the next chord.
    assert {10, 7} <= set(colours) <= {10, 7, 0}
    assert colours.count(0) <= len(colours) / 100
    assert colours.count(10) > len(colours) * 3 / 4


def test_over_a_slash_chord_the_line_is_the_slash_note_and_the_chord() -> None:
    notes = 0
    for feel in FEELS:
        homes = own = 0
        # So many that half of a feel's is no matter of chance.
        for seed in range(4):
            bars, _, line = played(feel, seed, over_slashes=True)
            for symbol, note in stated(line, bars):
                if "/" in symbol:
                    tones = chord_classes(symbol) | {root_class(symbol)}
                    assert note.pitch % 12 in tones, (feel, symbol, note)
                    homes += note.pitch % 12 == root_class(symbol)
                    own += 1
        assert homes >= own / 2 or feel in ROOT_AND_FIFTH, feel
        notes += own
    assert notes > 1000


def test_an_inverted_triad_is_root_root_octave_root_for_a_bass() -> None:
    # A/C#: the slash note is the root of the bar, E the only other tone.
    compared = 0
    for feel in ("soul", "sixteenths", "broken sixteenths", "one drop", "half-time"):
        text = chart({"verse": ["A/C#", "A/C#", "A/C#", "D", "D"]}, feel=feel)
        line = [
            n for n in struck(play_bass(text.replace("key: D", "key: A"))) if n.grid_tick < 11520
        ]
        classes = [note.pitch % 12 for note in line]
        assert set(classes) == {1, 4}, feel
        assert classes.count(1) > classes.count(4)
        octaves = {37} if feel == "one drop" else {37, 49}
        assert {note.pitch for note in line if note.pitch % 12 == 1} == octaves
        compared += len(line)
    assert compared > 80


def test_a_plain_triad_has_a_minor_seventh_only_from_the_key() -> None:
    sevenths = notes = 0
    for feel in ("broken sixteenths", "soul", "shuffle", "slow twelve-eight"):
        for seed in range(8):
            bars, key, line = played(feel, seed, TRIADS)
            scale = key_classes(key)
            lead_on = {id(a) for a, b in pairwise(line) if b.origin.role in LEADING}
            for symbol, note in stated(line, bars):
                root = root_class(symbol)
                # Below the note that leads into the next root a step of the scale may lead on.
                if "/" in symbol or id(note) in lead_on:
                    continue
                notes += 1
                if (note.pitch - root) % 12 == 10:
                    assert {root, (root + 10) % 12} <= scale, (feel, key, symbol)
                    sevenths += 1
                elif note.pitch % 12 not in chord_classes(symbol):
                    # The sixth of the key is all that may stand beside the chord's own tones.
                    assert (note.pitch - root) % 12 in (8, 9), (feel, key, symbol)
                    assert note.pitch % 12 in scale, (feel, key, symbol)
    assert notes > 1250
    assert sevenths > 45


def test_a_colour_under_the_octave_goes_down_with_it() -> None:
    """No leap of a seventh from a sixth or seventh to the root of the same chord."""
    moves = 0
    for seed in range(25):
        _, _, line = played("broken sixteenths", seed)
        for before, after in pairwise(line):
            one_bar = before.origin.bar == after.origin.bar
            climbs = before.origin.role in (Role.SIXTH, Role.SEVENTH)
            if one_bar and climbs and after.origin.role is Role.OCTAVE:
                assert abs(after.pitch - before.pitch) <= 5
                moves += 1
    assert moves > 25


def test_nothing_but_the_chord_stands_on_its_beat() -> None:
    """No feel states a note a half step over a chord tone, in any key."""
    notes = 0
    for feel in FEELS:
        for seed in range(4):
            bars, _, line = played(feel, seed)
            for symbol, note in stated(line, bars):
                tones = chord_classes(symbol) | {root_class(symbol)}
                outside = note.pitch % 12 not in tones
                assert not (outside and (note.pitch - 1) % 12 in tones), (feel, symbol, note)
                notes += 1
    assert notes > 2000
