"""Keys against worked histograms, human analyses, handbook progressions and made-up songs.

Worked histograms: computed with the published profiles (shared/tables/key_histograms.toml names
each source).  Chorales: the analyses that music21 ships.
"""

import tomllib
from pathlib import Path

import pytest

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.evidence import Moment, chord_class
from groove.harmony.key import key_scores, read_key, shares
from groove.harmony.profiles import PROFILES, profile_correlations
from groove.theory.keys import Mode, parse_key
from tests.harmony.chorales import OTHER_KEY, Analysis, analyses
from tests.harmony.progressions import made_chart, made_songs

TABLES = Path(__file__).parents[2] / "shared" / "tables"
HISTOGRAMS = tomllib.loads((TABLES / "key_histograms.toml").read_text(encoding="utf-8"))
PROFILE_FILE = tomllib.loads((TABLES / "key_profiles.toml").read_text(encoding="utf-8"))


def key_of(bars: str) -> str:
    return read_key(unroll(parse_chart(f"verse:\n{bars}"))).key.name


def ranked(bins: list[float], profile: str) -> list[tuple[float, int, Mode]]:
    """Correlation, tonic and mode of all 24 keys, best first."""
    found = profile_correlations(bins, profile)
    rows = [(value, tonic, mode) for mode in found for tonic, value in enumerate(found[mode])]
    return sorted(rows, key=lambda row: -row[0])


def test_profiles_have_the_published_sums() -> None:
    compared = 0
    for row in PROFILE_FILE["profile"]:
        values = PROFILES[row["name"]][Mode(row["mode"])]
        assert sum(values) == pytest.approx(row["sum"], abs=0.0005)
        assert list(values) == row["values"]
        compared += 1
    assert compared == 8


def test_worked_histograms_give_their_keys_and_correlations() -> None:
    compared = 0
    for row in HISTOGRAMS["histogram"]:
        for profile, found in row["best"].items():
            correlation, tonic, mode = ranked(row["bins"], profile)[0]
            wanted = parse_key(found[0])
            assert (tonic, mode) == (wanted.tonic.pitch_class, wanted.mode), (row["name"], profile)
            assert correlation == pytest.approx(found[1], abs=0.00006)
            compared += 1
    assert compared == 31


def test_an_exact_tie_is_a_tie() -> None:
    row = next(r for r in HISTOGRAMS["histogram"] if r["name"] == "Am G F E triads")
    first, second, *_ = ranked(row["bins"], "temperley")
    assert {first[1:], second[1:]} == {(0, Mode.MAJOR), (9, Mode.MINOR)}
    assert first[0] == pytest.approx(second[0])


def opening_key(analysis: Analysis) -> tuple[int, Mode]:
    """The key found from the chords alone: no local key, no name, only what sounds."""
    bins = [0.0] * 12
    moments = []
    for n in analysis.numerals:
        above = frozenset((pc - n.root) % 12 for pc in n.pitch_classes)
        bar, beat = divmod(n.offset, 4)
        kind = chord_class(above)
        moments.append(Moment(n.root, n.bass, kind, n.quarters, int(bar), 0, beat == 0))
        for pitch_class in n.pitch_classes:
            bins[pitch_class] += n.quarters
    found = shares(key_scores(moments, bins))
    return max(found, key=lambda key: found[key])


def test_opening_keys_of_the_chorales() -> None:
    rows = [analysis for analysis in analyses() if analysis.bwv not in OTHER_KEY]
    right = [opening_key(a) == (a.opening_key.tonic.pitch_class, a.opening_key.mode) for a in rows]
    assert len(right) == 18
    assert sum(right) >= 17


@pytest.mark.parametrize(
    ("bars", "key"),
    [
        # R. Hutchinson, Music Theory for the 21st-Century Classroom, 12.4: twelve bars of blues
        ("| A7 | A7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | A7 |", "A major"),
        ("| Bb7 | Bb7 | Bb7 | Bb7 | Eb7 | Eb7 | Bb7 | Bb7 | F7 | Eb7 | Bb7 | F7 |", "Bb major"),
        # common practice, no source, from here on
        ("| Dm7 | G7 | Cmaj7 | % |", "C major"),
        ("| C | G | Am | F |", "C major"),
        ("| E | B | C#m | A |", "E major"),
        ("| Am | G | F | E |", "A minor"),
        ("| C | C | C | C |\n| E7 | A7 | D7 | G7 |\n| C | F | G7 | C |", "C major"),
        ("| D | C | G | D |", "D mixolydian"),
        ("| Am | D | Am | D |\n| Am | G | D | Am |", "A dorian"),
        ("| Dm | Gm | A7 | Dm |", "D minor"),
        ("| Ebm | Cb | Bb7 | Ebm |", "Eb minor"),
        ("| C#m | A | B | C#m |", "C# minor"),
        ("| Gb | Cb | Db | Gb |", "Gb major"),
        ("| F# | B | C# | F# |", "F# major"),
    ],
)
def test_handbook_progressions(bars: str, key: str) -> None:
    assert key_of(bars) == key


def test_a_loop_with_two_homes_is_called_ambiguous() -> None:
    reading = read_key(unroll(parse_chart("verse:\n| Am | F | C | G |")))
    assert reading.is_ambiguous
    assert reading.runner_up
    assert {reading.key.name, reading.runner_up.name} == {"A minor", "C major"}


def test_the_loop_is_plain_once_it_rests_on_the_major() -> None:
    reading = read_key(unroll(parse_chart("verse:\n|: Am | F | C | G :|\nend:\n| C | G | C | C |")))
    assert reading.key.name == "C major"
    assert not reading.is_ambiguous


def test_no_chords_have_no_confidence() -> None:
    reading = read_key(unroll(parse_chart("verse:\n| N.C. | % |")))
    assert (reading.confidence, reading.runner_up) == (0.0, None)


def test_a_given_key_is_believed_and_a_contradiction_known() -> None:
    harmony = analyse(parse_chart("key: E\nverse:\n| C | F | G7 | C |"))
    assert harmony.key.name == "E major"
    assert harmony.contradiction == parse_key("C")
    agreed = analyse(parse_chart("key: C\nverse:\n| C | F | G7 | C |"))
    assert agreed.contradiction is None


def test_a_lift_of_the_last_chorus_is_a_modulation() -> None:
    text = "verse:\n|: C | F | G7 | C :|\nlift:\n|: Db | Gb | Ab7 | Db :|\nform: verse x2, lift"
    harmony = analyse(parse_chart(text))
    assert harmony.key.name == "C major"
    assert [(o.name, key.name) for o, key in harmony.modulations] == [("lift", "Db major")]


def test_made_up_songs_that_nothing_was_fitted_to() -> None:
    songs = made_songs("test", 150)
    right = [
        read_key(unroll(parse_chart(made_chart(song)))).key.tonic.pitch_class == song.tonic
        for song in songs
    ]
    assert len(right) == 150
    # Of 400 it is 0.955 at the least; of so few it strays by 0.017.
    assert sum(right) >= 0.938 * 150


def test_the_key_moves_with_the_song() -> None:
    songs = made_songs("turned", 12)
    compared = 0
    for song in songs:
        text = made_chart(song)
        key = read_key(unroll(parse_chart(text))).key
        for semitones in (1, 5, 7, 11):
            moved = read_key(unroll(parse_chart(f"transpose: {semitones}\n{text}"))).key
            assert (moved.tonic.pitch_class - key.tonic.pitch_class) % 12 == semitones
            assert moved.mode is key.mode
            compared += 1
    assert compared == 48


def test_sections_of_fifths_have_the_songs_third() -> None:
    # Common practice, no source: over E5 G5 A5 nobody hears E major before a chorus on C5 and D5.
    song = parse_chart(
        "verse:\n| E5 | G5 | A5 | E5 |\n| E5 | G5 | A5 | B5 |\n"
        "chorus:\n| C5 | D5 | E5 | E5 |\n| C5 | D5 | B5 | B5 |\n"
        "form: verse x2, chorus, verse, chorus x2\n"
    )
    harmony = analyse(song)
    assert {key.name for key in harmony.section_keys} == {harmony.key.name} == {"E minor"}
