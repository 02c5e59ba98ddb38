"""What a player must not miss: sections told as one, what stops the band, odd lengths, savings.

The words are ours; what they must tell a player apart is common practice, no source.
"""

import pytest

from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.text.card import card_text, song_card
from groove.text.harmony import harmony_text

HIT = """key: Em
verse:
| Em7 | Em7 | A7 | {verse} |
outro:
as: verse
bar 4: | {outro} |
"""


def _card(chart: str) -> str:
    return card_text(song_card(analyse(parse_chart(chart))))


@pytest.mark.parametrize(
    ("verse", "outro", "told"),
    [
        ("<Em7", "(hit) Em7", "Em7, hit, not pushed"),
        ("<Em7", "Em7", "Em7, not pushed"),
        ("Em7", "<Em7", "<Em7"),
        ("<Em7", "16<Em7", "16<Em7"),
        ("Em7", "(stop) Em7", "Em7, stop"),
        ("(stop) Em7", "(hold) Em7", "Em7, hold"),
        ("(stop) Em7", "Em7", "Em7, no stop"),
        ("(hits 1 2+) Em7", "(hits 1) Em7", "Em7, hits 1"),
        ("Em7", "(kicks 2+) Em7", "Em7, kicks 2+"),
        ("Em7", "(hit) Am7", "Am7, hit"),
        ("Em7", "(hit) Em7", "Em7, hit"),
    ],
)
def test_a_bar_that_is_played_otherwise_is_told(verse: str, outro: str, told: str) -> None:
    chart = HIT.format(verse=verse, outro=outro)
    assert f"outro: as verse, last bar differs: {told}\n" in _card(chart)
    words = f"outro: 4 bars, as verse, last bar differs: {told}\n"
    assert words in harmony_text(analyse(parse_chart(chart)))


def test_sections_that_are_played_alike_are_told_as_one() -> None:
    chart = HIT.format(verse="(stop) <Em7", outro="(stop) <Em7")
    assert "differs" not in _card(chart)
    assert "outro: 4 bars, as verse\n" in harmony_text(analyse(parse_chart(chart)))


def test_a_bar_played_otherwise_is_told_by_its_own_number_after_one_put_in() -> None:
    chart = """verse:
| D | A | Bm | G | Em | <A |
long:
| D | F#m | A | Bm | G | Em | A |
"""
    told = harmony_text(analyse(parse_chart(chart)))
    assert "long: 7 bars, as verse, last bar differs: A, not pushed, bar 2 added: F♯m\n" in told


def test_a_loop_is_told_once_only_where_its_pushes_are_the_same() -> None:
    same = "verse:\n| Em | <C | Em | <C |\n"
    other = "verse:\n| Em | <C | Em | C |\n"
    assert "verse  (2 bars, twice)\n  | Em | <C |\n" in _card(same)
    assert "verse\n  | Em | <C | Em | C  |\n" in _card(other)
    assert "\n  Em | <C\n" in harmony_text(analyse(parse_chart(same)))
    assert "\n  Em | <C | Em | C\n" in harmony_text(analyse(parse_chart(other)))


CALLED = """intro:
| Em7 | Em7 |
verse:
| Em7 | Am7 | (hits 1 2+) B7 | (kicks 2+) Em7 |
bridge:
| (build) Am | (stop) B7 | (thin) C | (feel shuffle) D |
end:
| C | D | (ritard) (tag x3) Am | (hit) Em |
form: intro, verse x2, bridge, end
"""


def test_what_stops_or_changes_the_band_is_listed() -> None:
    text = _card(CALLED).partition("Watch out for:\n")[2]
    for words in (
        "hits 1 2+: verse bar 3",
        "kicks 2+: verse bar 4",
        "build: bridge bar 1",
        "stop: bridge bar 2",
        "thin: bridge bar 3",
        "feel shuffle: bridge bar 4",
        "ritard: end bar 7",  # bars 3 and 4 are played three times: the last third bar is the 7th
        "hit: end bar 8",
        "tag: last 2 bars 3 times",
    ):
        assert f"  {words}\n" in text, words


def test_a_loop_is_told_apart_from_a_section_that_comes_twice() -> None:
    text = _card("intro:\n| Em7 | Em7 |\nverse:\n| C | D |\nform: intro, verse x2\n")
    assert "Form    intro, verse ×2\n" in text
    assert "\nintro  (1 bar, twice)\n" in text
    assert "\nverse\n" in text


@pytest.mark.parametrize(
    ("lengths", "is_odd"), [((1, 2, 4, 8, 12, 16), False), ((3, 5, 6, 7, 9, 10, 18), True)]
)
def test_an_odd_length_is_no_multiple_of_four_and_no_power_of_two(
    lengths: tuple[int, ...], is_odd: bool
) -> None:
    told = [
        f"odd length: verse {bars} bar" in _card("verse:\n" + "| C " * bars + "|\n")
        for bars in lengths
    ]
    assert told == [is_odd] * len(lengths)


def test_a_saving_is_told_only_where_it_is_worth_it() -> None:
    """A shape of four roots three times is worth telling."""
    good = "| C | A | D | G | C | A | D | G | C | A | D | G | F |"
    assert "know in place of 13 roots" in " ".join(_card(f"verse:\n{good}\n").split())


@pytest.mark.parametrize(
    ("bars", "is_told"),
    [
        ("D | A | G | D | C | G", True),  # 4 things for 6 roots: a third saved
        ("G | A | G | F | G | A | G | F | A", False),  # 7 for 9
        ("D | C | F | G | C | G | D | A | D", False),  # 8 for 9
    ],
)
def test_a_saving_is_told_from_a_third_on(bars: str, is_told: bool) -> None:
    """A shape counts once, its repeats as one thing each: how long a player's words are."""
    assert ("in place of" in " ".join(_card(f"verse:\n| {bars} |\n").split())) is is_told


def test_bars_that_differ_are_told_in_their_order_whatever_differs() -> None:
    chart = """verse:
| D | <A | Bm | G | D | A | G | A |
other:
| D | A | Bm | G | D | A | G | Em |
"""
    assert "other: as verse, bars 2, 8 differ: A, not pushed | Em\n" in _card(chart)
