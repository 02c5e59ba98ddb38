"""What a notebook asks for is what it gets: options, hand, library and soundfont reach their ends.

Common practice, no source; MusicXML 4.0 names ``<fingering>``.
"""

import pytest

import groove
from groove.io.samples import SampleSet

SONG = groove.parse_chart("key: D\nfeel: sixteenths\nverse:\n| D | G/B | Em7 A7 | D |\n")


def test_a_sheet_is_cut_once_from_the_whole_song() -> None:
    options = groove.PerformOptions(bars=range(3, 1000), times=2)
    sheet = groove.make_sheet(SONG, options=options)
    assert [bar.ref.written_bar for bar in sheet.performance.bars] == [3, 4]
    texts = groove.notice_texts(sheet.performance.notices)
    assert len([text for text in texts if "left out" in text]) == 1


def test_a_hand_is_where_it_was_asked_for() -> None:
    hand = groove.NeckOptions(start_fret=10)
    places = [
        groove.make_sheet(SONG, hand=given).performance.part_notes(groove.Part.BASS)[0].place
        for given in (hand, groove.NeckOptions(start_fret=5))
    ]
    # D2 lies at fret 10 of the E string and at fret 5 of the A string.
    assert [(place.string, place.fret) for place in places if place] == [(4, 10), (3, 5)]


def test_fingers_are_written_where_they_are_asked_for() -> None:
    with_fingers = groove.make_sheet(SONG, groove.SheetOptions(fingers=True)).musicxml()
    assert "<fingering" in with_fingers
    assert "<fingering" not in groove.make_sheet(SONG).musicxml()


def test_another_library_is_used() -> None:
    with pytest.raises(groove.GrooveError):
        groove.perform_song(SONG, groove.Library())


def test_another_soundfont_is_used() -> None:
    for call in (
        lambda: groove.make_page(SONG, soundfont="no.sf2"),
        lambda: groove.render_audio(groove.perform_song(SONG), soundfont="no.sf2"),
    ):
        with pytest.raises(groove.SoundError, match=r"no\.sf2"):
            call()


def test_the_page_has_the_hand_that_was_asked_for(
    one_key: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same each time, and another for another hand; the sound is left out."""
    silence = SampleSet(rows=(), synthesizer="none", notice="")
    monkeypatch.setattr("groove.io.practice_page.sample_set", lambda *_, **__: silence)
    song = groove.parse_chart("key: D\nfeel: sixteenths\nverse:\n| D | G/B |\n")
    low, again, high = (
        groove.make_page(song, hand=groove.NeckOptions(start_fret=fret)).html for fret in (5, 5, 10)
    )
    assert low == again
    assert low != high
