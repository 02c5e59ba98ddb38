"""Small judgements of form and pull that whole songs seldom show; counted by hand."""

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.harmony.changes import home_pull
from groove.harmony.sections import Echo, find_echo, thins_out
from groove.theory.chords import parse_chord


def test_a_phrase_that_comes_again_with_another_ending_is_an_echo() -> None:
    phrase = ["C", "F", "G", "Am", "F", "G"]
    bars = [*phrase, "Dm", "G", *phrase, "C", "C"]
    song = parse_chart(f"verse:\n| {' | '.join(bars)} |\n")
    assert find_echo(unroll(song)) == Echo(8, 2, (15, 16))


def test_a_section_that_mostly_stops_thins_out() -> None:
    for stops, thin in ((3, True), (2, False)):
        bars = ["(stop) C"] * stops + ["C"] * (4 - stops)
        song = parse_chart(f"verse:\n| {' | '.join(bars)} |\n")
        assert thins_out(unroll(song)) is thin


def test_a_major_seventh_does_not_fall_to_the_third() -> None:
    """The seventh of a dominant is a minor one (R. Hutchinson, 14.2, from memory)."""
    seventh, major = (home_pull(parse_chord(name), parse_chord("C")) for name in ("G7", "Gmaj7"))
    assert seventh and seventh.seventh and seventh.seventh.name == "F"
    assert major and major.leading_note.name == "B" and major.seventh is None
