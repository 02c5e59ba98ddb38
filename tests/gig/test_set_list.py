"""Set lists as players type them, and what cannot be read.

Expected values are read off the lines by eye; a rule of the house, no other source.
"""

import pytest

from groove.errors import OptionError
from groove.gig.set_list import SetBreak, SetSong, parse_set_list

PLAIN = """# Friday
Title: Friday at the Mill
pear-ladder.txt

heron-road, key Eb, tempo: 96   # the singer's key
BREAK 20 minutes
break
button drawer.txt, feel: slow twelve-eight, Tempo 70%
"""
TOML = """format = 1
title = "Friday at the Mill"
[[set]]
chart = "pear-ladder.txt"
[[set]]
chart = "heron-road"
key = "Eb"
tempo = 96
[[set]]
break = 20
[[set]]
break = 15
[[set]]
chart = "button drawer.txt"
feel = "slow twelve-eight"
tempo = "70%"
"""


@pytest.mark.parametrize(("text", "source"), [(PLAIN, "friday.txt"), (TOML, "friday.toml")])
def test_a_set_in_both_forms(text: str, source: str) -> None:
    found = parse_set_list(text, source=source)
    assert found.title == "Friday at the Mill"
    assert found.entries == (
        SetSong(chart="pear-ladder.txt"),
        SetSong(chart="heron-road", key="Eb", tempo="96"),
        SetBreak(20),
        SetBreak(15),
        SetSong(chart="button drawer.txt", feel="slow twelve-eight", tempo="70%"),
    )
    assert len(found.songs) == 3


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("heron-road, record our own.mp3, key Eb\n", "x.txt"),
        ("heron-road, key: Eb, Record: our own.mp3\n", "x.txt"),
        (
            'format = 1\n[[set]]\nchart = "heron-road"\nkey = "Eb"\nrecord = "our own.mp3"\n',
            "x.toml",
        ),
    ],
)
def test_a_record_of_a_song(text: str, source: str) -> None:
    found = parse_set_list(text, source=source)
    assert found.songs == (SetSong(chart="heron-road", key="Eb", record="our own.mp3"),)


def test_a_mark_before_the_text_is_none_of_it() -> None:
    """The byte order mark of some editors (Unicode 15, 23.8)."""
    found = parse_set_list("\ufeffa.txt\n", source="x.txt")
    assert found.entries == (SetSong(chart="a.txt"),)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a.txt, kei Eb\n", "x.txt:1: cannot read 'kei Eb'\n  nearest: key; expected a chart"),
        ("\na.txt, Eb\n", "x.txt:2: cannot read 'Eb'\n  expected a chart"),
        ("a.txt, key\n", "x.txt:1: cannot read 'key'"),
        (", key Eb\n", "x.txt:1: cannot read ', key Eb'"),
        ("a.txt\nbreak 999\n", "x.txt:2: a break of 999 minutes\n  expected a whole number"),
        ("break 0\na.txt\n", "x.txt:1: a break of 0 minutes"),
        ("verse:\n| D |\n", "x.txt:2: found bars, as in a chart\n  a set list: expected a chart"),
        ("# nothing\nbreak\n", "x.txt: there is no song in this set\n  expected a chart"),
        ("a.txt\n" * 501, "x.txt: 501 songs and breaks in one set\n  expected at most 500"),
    ],
)
def test_what_a_plain_list_cannot_say(text: str, told: str) -> None:
    with pytest.raises(OptionError) as refused:
        parse_set_list(text, source="x.txt")
    assert refused.value.report().startswith(told)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("format = \n", "x.toml: "),
        ("format = 2\n", "x.toml: format: found 2\n  expected format = 1"),
        ("format = 1\nsongs = 1\n", "x.toml: there is no 'songs' here\n  expected one of: format"),
        ("format = 1\nset = 3\n", "x.toml: set is no list of tables\n  expected [[set]]"),
        ("format = 1\n[[set]]\nkey = 'D'\n", "x.toml: set[1]: neither a chart nor a break"),
        (
            "format = 1\n[[set]]\nchart = 'a'\nkeys = 'D'\n",
            "x.toml: set[1]: there is no 'keys' here\n  nearest: key; expected one of: chart, key",
        ),
        ("format = 1\n[[set]]\nbreak = true\n", "x.toml: set[1]: a break of True minutes"),
        ("format = 1\n[[set]]\nbreak = '5'\n", "x.toml: set[1]: a break of '5' minutes"),
    ],
)
def test_what_a_toml_list_cannot_say(text: str, told: str) -> None:
    with pytest.raises(OptionError) as refused:
        parse_set_list(text, source="x.toml")
    assert refused.value.report().startswith(told)
