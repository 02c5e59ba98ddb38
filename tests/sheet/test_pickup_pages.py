"""A pickup with a chord, wherever it is shown: chord chart, part, card, and in other keys."""

import re

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.respelling import respelled_song
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.lead import lead_pages
from groove.sheet.options import SheetOptions
from groove.text.card import card_text, song_card

CHART = "key: D\npickup: 2 | A7 |\nG |-----|\nD |-----|\nA |-----|\nE |-0-3-|\nverse:\n| D | G |\n"


def test_the_chord_chart_draws_the_pickups_chord_before_bar_1() -> None:
    (page,) = lead_pages(parse_chart(CHART), SheetOptions(numerals=True))
    texts = re.findall(r'id="(chord-[0-9]+-1)"[^>]*>([^<]+)<', page)
    assert texts == [("chord-0-1", "A7"), ("chord-1-1", "D"), ("chord-2-1", "G")]


def test_the_part_has_the_pickups_chord_over_its_notes(library: Library) -> None:
    silent = "key: D\npickup: 2\nverse:\n| D | G |\n"
    for text, wanted in ((CHART, ["A7"]), (silent, [])):
        song = parse_chart(text)
        placed, _ = finger_performance(
            perform_song(song, library, PerformOptions(tight=True)), tuning=STANDARD
        )
        first = build_score(placed, song).measures[0]
        assert first.is_pickup
        assert [onset.symbol for onset in first.chords] == wanted


def test_the_card_names_the_pickup() -> None:
    assert "a pickup of 2 beats: A7" in card_text(song_card(analyse(parse_chart(CHART))))


def test_what_is_said_in_another_key_needs_no_neck() -> None:
    """The open E string has nothing below it, and a card has no notes."""
    moved = analyse(parse_chart(CHART)).transposed(-2)
    assert moved.key.name == "C major"
    assert [bar.chords[0].symbol for bar in moved.bars] == ["G7", "C", "F"]


def test_a_pickup_is_respelled_with_its_song() -> None:
    song = parse_chart("pickup: 1 | Cb7 |\nverse:\n| Fb | Bbb | Cb7 | Fb |\n")
    assert song.pickup_bar
    respelled = respelled_song(song)
    # F flat major has eight flats; E major is the same on a keyboard.
    assert [span.written for span in respelled.sections[0].bars[0].chords] == ["E"]
    assert respelled.pickup_bar
    assert [span.written for span in respelled.pickup_bar.chords] == ["B7"]
