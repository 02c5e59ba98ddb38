"""One output has one spelling of a chord: ``C♯m7♭5`` and ``C#m7b5`` never stand together.

Common practice, no source.
"""

import pytest

from tests.cli.command import Command

CHART = """key: Bb
pickup: 1 | F#7 |
verse:
| C#m7b5 | F#7 | Bbmaj7 | Ebm |
chorus:
key: Eb
feel: rock
| Eb | Ab | Bb7 | <Eb |
"""


@pytest.mark.parametrize(
    "command",
    [
        ("card", "song.txt"),
        ("show", "song.txt", "--harmony"),
        ("show", "song.txt", "--notes"),
        ("show", "song.txt", "--numerals", "--harmony"),
        ("show", "song.txt", "--numbers", "--notes"),
    ],
)
def test_words_and_chart_in_one_output_spell_chords_alike(
    groove: Command, command: tuple[str, ...]
) -> None:
    groove.write("song.txt", CHART)
    out = groove(*command).out
    assert "C♯m7♭5" in out
    assert [text for text in ("#", "Bb", "Eb", "Ab", "b5") if text in out] == []


def test_a_chart_that_is_shown_alone_is_spelled_as_it_is_written(groove: Command) -> None:
    groove.write("song.txt", CHART)
    for views in ((), ("--numerals",)):
        out = groove("show", "song.txt", *views).out
        assert [
            text for text in ("C#m7b5", "pickup of 1 beat: F#7", "Bbmaj7") if text not in out
        ] == []
        assert "(key: Eb major, feel: rock)" in out


NAMED = """key: Bb
riff walk b2:
R - - - 5 - - -
verse:
bass: walk b2
| Cm7 |
solo:
| Cm7 |
  G|----------------|
  D|----------------|
  A|3-------5b7-----|
  E|----------------|
form: solo, verse
"""


def test_names_and_signs_that_are_no_chords_stay_as_they_are(groove: Command) -> None:
    groove.write("song.txt", NAMED)
    shown = groove("show", "song.txt", "--numerals", "--harmony")
    assert "bass: walk b2" in shown.out, shown
    card = groove("card", "song.txt")
    assert "5b7" in card.out and "B♭ major" in card.out, card
