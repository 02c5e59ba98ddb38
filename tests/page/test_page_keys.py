"""Another key: chords, card, neck and tab move with it, and the page says what sounds."""

import base64
import gzip
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.kept import kept
from tests.page.conftest import FEW_MOVES, Made, Open, Opened
from tests.page.reused import Reused

TAB = """
() => [...document.querySelectorAll("#sheet [data-note] text")].map((text) => {
  const lines = [...text.closest("svg").querySelectorAll("path")].map((p) => p.getAttribute("d"));
  const ys = lines.map((d) => /^M[\\d.]+ ([\\d.]+)L[\\d.]+ ([\\d.]+)$/.exec(d))
    .filter((at) => at[1] === at[2]).map((at) => Number(at[1]));
  const y = Number(text.getAttribute("y")) - 4;
  const string = ys.findIndex((each) => Math.abs(each - y) < 4);
  return [Number(text.parentNode.dataset.note), string, text.textContent];
})
"""


@pytest.mark.parametrize("semitones", [-2, 2])
def test_in_another_key_the_page_shows_tab_that_sounds(repeated: Opened, semitones: int) -> None:
    opened, page = repeated, repeated.page
    assert page.locator("#sheet use").count() > 10
    opened.choose("transpose", str(semitones))
    # No clef, no head: nothing that is written in the other key.
    assert page.locator("#sheet use").count() == 0
    pitches = [row[3] for row in opened.run("practicePage.page.data.bass")]
    strings = (43, 38, 33, 28)  # G2, D2, A1, E1 (ISO 16)
    compared = 0
    for note, string, text in opened.run(TAB):
        if text != "x":
            shown = strings[string] + int(text)
            # An octave higher where the section would leave the bass, never another note.
            assert shown - pitches[note] - semitones in (0, 12)
            compared += 1
    assert compared > 10
    # A pickup of one beat is the last of its bar.
    beats = page.locator("#sheet figure >> nth=0").locator("text.beat").all_text_contents()
    assert beats[:5] == ["4", "1", "2", "3", "4"]
    assert page.locator("#sheet .bars button").count() >= 4
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#print use").count() == 0
    opened.choose("transpose", "0")
    assert page.locator("#sheet use").count() > 10


def test_what_would_lie_below_the_neck_is_played_and_heard_an_octave_higher(
    open_page: Open, make_page: Made
) -> None:
    opened = open_page(make_page("low", "title: Low\nbass: long notes\na:\n| E | E |\n"))
    opened.choose("transpose", "-2")
    # Two semitones below the open E string (E1) is D1: D2 is the open D string, and the fifth fret
    # of the A string.
    places = {(string, text) for _, string, text in opened.run(TAB)}
    assert len(places) == 1 and places <= {(1, "0"), (2, "5")}
    # E1 is MIDI 28; ten semitones up is D2, 38.
    assert opened.run("practicePage.page.wishes().bassMoves") == [10, 10]
    assert opened.page.inner_text("#key-says") == "Sounding in D major (−2)"


def test_another_key_moves_the_chords_and_is_stated(short: Opened) -> None:
    opened, page = short, short.page
    assert not page.is_visible("#key-says")
    opened.choose("transpose", "1")
    # A half step above D, G and D major: E flat and A flat.
    assert page.inner_text("#now") == "E♭"
    assert page.inner_text("#next") == "A♭"
    assert page.inner_text("#key-says") == "Sounding in E♭ major (+1)"
    opened.choose("transpose", "-1")
    # Five flats instead of seven sharps.
    assert page.inner_text("#key-says").startswith("Sounding in D♭ major (−1)")
    opened.choose("transpose", "0")
    assert page.inner_text("#now") == "D"
    assert page.inner_text("#key-fact").startswith("D major")
    assert not page.is_visible("#key-says")


def test_the_card_moves_with_the_key(short: Opened) -> None:
    opened, page = short, short.page
    page.select_option("#view", "card")
    # Where the neck has the first note; in another key the neck alone says where.
    first = page.evaluate("practicePage.page.neck.places[0]")
    assert (first["string"], first["fret"]) == (2, 0)
    assert "D: D string, open" in page.inner_text("#card dl")
    opened.choose("transpose", "-2")
    assert "Start" not in page.inner_text("#card dl")
    # A tone below D, G, A7, D, and G, A.
    assert page.locator("#card td b").all_inner_texts() == ["C", "F", "G7", "C", "F", "G"]
    # The degrees stay what they were.
    assert page.locator("#card td i").all_inner_texts() == ["I", "IV", "V7", "I", "IV", "V"]
    assert "C major, moved by −2 from D major" in page.inner_text("#card dl")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert page.locator("#card td b").first.inner_text() == "C"


Places = list[dict[str, int | None]]


@pytest.fixture(scope="module")
def placed(reused: Reused, lantern_row: Path) -> tuple[list[int], dict[int, tuple[Places, Any]]]:
    """The pitches of a song's bass, and in some keys where they are played and how they move.

    Asked once a run.
    """
    return kept("places in other keys", lambda: places_in_keys(reused, lantern_row))


def places_in_keys(
    reused: Reused, lantern_row: Path
) -> tuple[list[int], dict[int, tuple[Places, Any]]]:
    """Return what a page has in keys of each kind."""
    with reused.page(lantern_row) as opened:
        pitches = [row[3] for row in opened.run("practicePage.page.data.bass")]
        found = {}
        for semitones in FEW_MOVES:
            opened.choose("transpose", str(semitones))
            found[semitones] = (
                opened.run("practicePage.page.neck.places"),
                opened.run("practicePage.page.wishes().bassMoves") or [0] * len(pitches),
            )
        return pitches, found


def test_the_neck_moves_with_the_key(
    placed: tuple[list[int], dict[int, tuple[Places, Any]]],
) -> None:
    pitches, keys = placed
    # Scientific pitch (ISO 16): G2, D2, A1, E1, from the highest string down.
    strings = (43, 38, 33, 28)
    raised = fingered = compared = 0
    for semitones, (places, moves) in keys.items():
        for place, pitch, by in zip(places, pitches, moves, strict=True):
            compared += 1
            string, fret = place["string"], place["fret"]
            assert string is not None and fret is not None
            assert strings[string - 1] + fret == pitch + by >= strings[-1]
            assert by - semitones in (0, 12)
            assert 0 <= fret <= 24
            raised += by > semitones
            fingered += place["finger"] is not None
    assert compared == len(FEW_MOVES) * len(pitches) > 3000
    assert raised > 0 and fingered == compared


def test_the_hand_holds_its_place_in_every_key(
    placed: tuple[list[int], dict[int, tuple[Places, Any]]],
) -> None:
    """The tab in another key is one to play: about as many moves of the hand as in the chart's own.

    A move is a step to a note whose fret lies farther than a hand reaches at the nut, four frets
    (one finger a fret, common practice, no source).
    """
    pitches, keys = placed
    far = []
    for places, _ in keys.values():
        frets = [fret for place in places if (fret := place["fret"])]
        far.append(sum(abs(a - b) > 4 for a, b in pairwise(frets)))
    assert len(far) == len(FEW_MOVES)
    assert max(far) <= 0.08 * len(pitches)


MOVED = """title: Moved
tempo: 120
feel: long notes
key: D
transpose: 2
verse:
| D | G | A7 | D |
"""
HERE_AND_ABOVE = (0, 1)


CARDS = re.compile('(?s)(<script type="application/gzip" id="cards">)(.*?)<')


def said_of(path: Path) -> str:
    """Return a page with its cards unpacked, without the words for how its key is known."""
    page = CARDS.sub(lambda found: found[1] + unpacked(found[2]) + "<", path.read_text("utf-8"))
    return re.sub(r"E major(, as the chart says| \(\d+% sure\))", "E major", page)


def unpacked(block: str) -> str:
    return gzip.decompress(base64.b64decode(block)).decode("utf-8")


def test_a_chart_with_a_transpose_is_shown_in_the_key_that_sounds(
    open_page: Open, make_page: Made
) -> None:
    path = make_page("moved", MOVED, moves=HERE_AND_ABOVE)
    opened = open_page(path)
    page = opened.page
    # A tone above D, G and A7: E, A, B7; from there a half step up: F, B flat, C7.
    assert page.inner_text("#key-fact").startswith("E major")
    assert page.locator("#transpose option:checked").inner_text() == "E major (0)"
    assert page.inner_text("#now") == "E"
    opened.choose("transpose", "1")
    assert page.inner_text("#key-says").startswith("Sounding in F major (+1)")
    assert [page.inner_text("#now"), page.inner_text("#next")] == ["F", "B♭"]
    page.select_option("#view", "card")
    assert page.locator("#card td b").all_inner_texts() == ["F", "B♭", "C7", "F"]
    assert page.locator("#card td i").all_inner_texts() == ["I", "IV", "V7", "I"]
    assert "F major, moved by +1 from E major" in page.inner_text("#card dl")
    # The same with a key that the chart does not tell, and with its chords as numbers.
    silent = make_page("moved-silent", MOVED.replace("key: D\n", ""), moves=HERE_AND_ABOVE)
    assert "sure)" in silent.read_text("utf-8")
    assert said_of(silent) == said_of(path)
    numbers = MOVED.replace("key: D", "key: D\nchords: numbers")
    numbers = numbers.replace("D | G | A7 | D", "1 | 4 | 57 | 1")
    numbered = make_page("moved-numbers", numbers, moves=HERE_AND_ABOVE)
    assert said_of(numbered) == said_of(path)
