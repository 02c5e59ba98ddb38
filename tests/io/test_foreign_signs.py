"""Signs that few scores have, read from MusicXML; music21 10.5.1 judges where it can.

Elements are those of MusicXML 4.0; where nobody judges, common practice, no source.
"""

import pytest

from groove.chart.form import unroll
from groove.io.musicxml import song_from_musicxml
from groove.text.notices import notice_texts
from groove.theory.chords import parse_chord
from tests.io.hostile_scores import CHORD, NOTE, score
from tests.io.score_forms import musicxml, spelled
from tests.io.test_played_order import by_music21, letters, ours


def test_repeats_in_the_coda_are_played() -> None:
    """The coda is new, so its repeat is taken; music21 plays it so."""
    form = spelled("C ; D,tocoda ; E ; F,D.C. al Coda ; G,coda,|: ; A,:|")
    assert ours(form) == "CDEFCDGAGA" == by_music21(musicxml(form))


def test_repeats_are_taken_again_after_a_jump_that_says_so() -> None:
    """MusicXML 4.0, ``after-jump`` of ``repeat``."""
    text = musicxml(spelled("C,|: ; D,:| ; E,D.C."))
    assert letters(song_from_musicxml(text.encode())) == "CDCDECDE"
    again = text.replace('direction="backward"', 'direction="backward" after-jump="yes"')
    assert letters(song_from_musicxml(again.encode())) == "CDCDECDCDE"


def test_of_two_bare_coda_signs_the_first_is_left_at() -> None:
    form = musicxml(spelled("C ; D,coda ; E ; F,D.C. al Coda ; G,coda"))
    bare = form.replace('<sound coda="coda"/>', "")
    assert letters(song_from_musicxml(bare.encode())) == "CDEFCDG"


def test_a_repeated_measure_has_the_chords_of_the_one_before() -> None:
    """MusicXML 4.0, ``measure-repeat``."""
    half = CHORD + NOTE.replace(">4<", ">2<")
    sign = "<attributes><measure-style><measure-repeat type='{}'>1</measure-repeat>"
    sign += "</measure-style></attributes>"
    two = half + half.replace(">C<", ">F<")
    song = song_from_musicxml(score(two, sign.format("start") + NOTE, sign.format("stop") + NOTE))
    found = [[span.symbol for span in bar.chords] for bar in unroll(song)]
    assert found == [["C", "F"], ["C", "F"], ["F"]]


def test_two_repeated_measures_have_the_chords_of_the_two_before() -> None:
    """MusicXML 4.0, ``measure-repeat``: its number is how many measures come again."""
    sign = "<attributes><measure-style><measure-repeat type='{}'>{}</measure-repeat>"
    sign += "</measure-style></attributes>"
    begins, ends = sign.format("start", 2), sign.format("stop", "")
    one, other = CHORD + NOTE, CHORD.replace(">C<", ">F<") + NOTE
    bars = one, other, begins + NOTE, NOTE, NOTE, ends + NOTE
    song = song_from_musicxml(score(*bars))
    assert [bar.chords[0].symbol for bar in unroll(song)] == ["C", "F", "C", "F", "C", "C"]
    early = song_from_musicxml(score(one, begins + NOTE, other))
    assert [bar.chords[0].symbol for bar in unroll(early)] == ["C", "C", "F"]


def test_a_tempo_at_the_edge_of_the_range_is_kept_and_a_passing_one_told() -> None:
    meter = "<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
    bars = [meter + '<sound tempo="400"/>' + CHORD + NOTE.replace(">4<", ">3<")]
    bars += [CHORD + NOTE.replace(">4<", ">3<")] * 5
    bars[3] = '<sound tempo="60"/>' + bars[3]
    bars[4] = '<sound tempo="400"/>' + bars[4]
    song = song_from_musicxml(score(*bars))
    assert abs(float(song.tempo.bpm) * 1.5 - 400) < 0.01
    assert [section.settings.tempo for section in song.sections] == [None]
    assert "measure 4: a change of tempo for a few bars is left out" in notice_texts(song.notices)


def test_endings_after_a_nested_repeat_are_the_outer_ones() -> None:
    """music21 plays it so; the inner repeat has two passes and no endings."""
    form = spelled("C,|: ; D,|: ; E,:| ; F,[1,:|,]1 ; G,[2,]2")
    assert ours(form) == "CDEDEFCDEDEG" == by_music21(musicxml(form))


@pytest.mark.parametrize(
    ("kind", "degree", "symbol"),
    [("minor-seventh", -1, "Cm7b5"), ("dominant", -1, "C7b5"), ("dominant", 1, "C+7")],
)
def test_a_fifth_that_is_added_is_the_chords_own_altered(
    kind: str, degree: int, symbol: str
) -> None:
    """As music21 10.5.1 writes ``m7b5``; a text that says both fifths is taken at its word."""
    chord = (
        "<harmony><root><root-step>C</root-step></root><kind{}>{}</kind><degree><degree-value>5"
        "</degree-value><degree-alter>{}</degree-alter><degree-type>add</degree-type></degree>"
        "</harmony>"
    )
    song = song_from_musicxml(score(chord.format("", kind, degree) + NOTE))
    (span,) = song.sections[0].bars[0].chords
    assert span.chord
    assert {d.semitones for d in span.chord.degrees} == {
        d.semitones for d in parse_chord(symbol).degrees
    }
    both = chord.format(' text="7(addb5)"', "dominant", -1)
    song = song_from_musicxml(score(both + NOTE))
    assert song.sections[0].bars[0].chords[0].symbol == "C7(addb5)"
