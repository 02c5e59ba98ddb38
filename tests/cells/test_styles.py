"""Feels found by the words that players call a style by.

Which feel a word means is common practice, no source.
"""

from fractions import Fraction

import pytest

from groove.cells.feels import read_feel
from groove.cells.library import library_from
from groove.cells.model import Feel, Library
from groove.cells.styles import best_feel, feels_of_style, named_feels, styles_of
from groove.chart.parse import parse_chart
from groove.errors import ChartError, OptionError
from groove.events import Performance
from groove.naming import fold_name
from groove.notices import NoticeKind
from groove.pipeline import PerformOptions, perform_chart, perform_song
from groove.text.notices import notice_texts
from groove.timing import Meter
from tests.cells.cell_lines import BASS, DRUMS, FEEL, FILES, KEYS

# What a bass player is told on a bandstand in place of a feel's name.
BANDSTAND = (
    *("funk", "disco", "reggae", "swing", "country", "blues", "salsa", "rock", "pop", "ballad"),
    *("jazz", "latin", "metal", "punk", "gospel", "R&B", "hip hop", "folk", "march", "bossa nova"),
)


SIX_DRUMS = {"kick": "9 .", "snare": ". 9"}
SIX_FEEL = {"meter": "6/8", "bass": "six", "drums": "six", "keys": "six"}


def feel_of(name: str, tempo: tuple[int, int], *also: str, meter: str = "4/4") -> dict[str, object]:
    """Return a feel's file in the small library of cells, in three as in four."""
    cells = {} if meter == "4/4" else {"bass": "three", "drums": "three", "keys": "three"}
    return {**FEEL, **cells, "name": name, "tempo": list(tempo), "also": list(also), "meter": meter}


def library_of(*feels: dict[str, object]) -> Library:
    """Return a library of the small cells, in 4/4 and 3/4, and some feels."""
    three = {"name": "three", "meter": "3/4"}
    cells = (
        *FILES[:3],
        ("bass", "bass/three.toml", {**BASS, **three, "steps": "R - 5", "levels": "9 . 7"}),
        ("drums", "drums/three.toml", {**DRUMS, **three, "kick": "9 . 8", "snare": ". 9 ."}),
        ("keys", "keys/three.toml", {**KEYS, **three, "steps": "V - 13", "levels": "6 . 5"}),
    )
    files = [("feels", f"feels/{index}.toml", feel) for index, feel in enumerate(feels)]
    return library_from([*cells, *files])  # type: ignore[list-item]


def chosen(library: Library, word: str, bpm: float, meter: str = "4/4") -> str:
    """Return the name of the feel that a word means at a tempo."""
    count, unit = map(int, meter.split("/"))
    found = feels_of_style(library, word)
    return best_feel(library, found, word, Meter(count, unit), bpm).name


def told(performance: Performance) -> list[str]:
    """Return what was said of styles."""
    kinds = (NoticeKind.STYLE, NoticeKind.UNSERVED_STYLE, NoticeKind.OTHER_FEEL)
    return notice_texts(n for n in performance.notices if n.kind in kinds)


def test_the_tempo_chooses_among_the_feels_of_a_word() -> None:
    library = library_of(feel_of("slow", (60, 90), "Hay"), feel_of("fast", (100, 140), "hay"))
    found = [chosen(library, "HAY", bpm) for bpm in (30, 60, 94, 96, 140, 300)]
    assert found == ["slow", "slow", "slow", "fast", "fast", "fast"]


def test_the_meter_stands_above_the_tempo() -> None:
    library = library_of(
        feel_of("in four", (60, 90), "hay"), feel_of("in three", (150, 180), "hay", meter="3/4")
    )
    assert chosen(library, "hay", 80, "3/4") == "in three"
    assert chosen(library, "hay", 160, "4/4") == "in four"
    assert chosen(library, "hay", 160, "2/2") == "in four"


def test_a_feel_that_can_be_fitted_stands_above_one_that_cannot() -> None:
    """Dotted beats do not fit a bar of quarters, three quarters do (see ``cells.fit``)."""
    six = {"meter": "6/8", "steps": "R 5", "levels": "9 7"}
    files = library_of(feel_of("in three", (60, 90), "hay", meter="3/4"))
    library = library_from(
        [
            ("bass", "bass/six.toml", {**BASS, **six, "name": "six"}),
            ("drums", "drums/six.toml", {**DRUMS, "meter": "6/8", "name": "six", **SIX_DRUMS}),
            ("keys", "keys/six.toml", {**KEYS, **six, "name": "six", "steps": "V 13"}),
            ("feels", "feels/six.toml", {**feel_of("a in six", (150, 180), "hay"), **SIX_FEEL}),
        ],
        under=files,
    )
    assert chosen(library, "hay", 160, "6/8") == "a in six"
    assert chosen(library, "hay", 160, "4/4") == "in three"


def test_where_tempi_overlap_the_most_usual_feel_of_a_word_is_taken() -> None:
    library = library_of(
        feel_of("a", (60, 140), "straw", "hay"), feel_of("b", (60, 240), "hay", "straw")
    )
    assert (chosen(library, "hay", 90), chosen(library, "straw", 90)) == ("b", "a")
    both = library_of(feel_of("a", (60, 140), "hay"), feel_of("b", (60, 240), "hay"))
    assert [chosen(both, "hay", bpm) for bpm in (90, 138)] == ["a", "b"], "the nearer middle"


def test_tempi_are_compared_in_the_beat_of_the_meter() -> None:
    """A quarter of 100 is a half of 50, and 12/8 counts dotted quarters (by the trade)."""
    library = library_of(feel_of("slow", (60, 90), "hay"), feel_of("fast", (100, 140), "hay"))
    halves = perform_chart("meter: 2/2\ntempo: 60\nfeel: hay\na:\n| C | C |\n", library)
    assert halves.bars[0].feel == "fast"
    in_halves = {**feel_of("fast", (100, 140), "hay"), "meter": "2/2"}
    library = library_of(feel_of("slow", (60, 90), "hay"), in_halves)
    assert [chosen(library, "hay", bpm) for bpm in (130, 150, 200)] == ["slow", "fast", "fast"]


def test_a_feels_own_name_stands_above_a_style() -> None:
    library = library_of(feel_of("Hay", (60, 90)), feel_of("fast", (100, 140), "hay"))
    performance = perform_chart("tempo: 120\nfeel: hay\na:\n| C |\n", library)
    assert performance.bars[0].feel == "Hay"
    assert told(performance) == []
    assert [feel.name for feel in named_feels(library, "hay")] == ["Hay"]


def test_hyphens_and_capitals_mean_nothing() -> None:
    library = library_of(feel_of("a", (60, 90), "Hip Hop"))
    assert [len(feels_of_style(library, word)) for word in ("hip-hop", "HIP  hop", "hop")] == [
        1, 1, 0,
    ]  # fmt: skip
    assert styles_of(library) == ["Hip Hop"]


TWO = "feel: Hay\nverse:\n| C | (3/4) C | C |\nend:\n  tempo: {end}\n  | C |\n"


def test_it_says_which_feel_it_was_and_which_else_there_are() -> None:
    library = library_of(
        feel_of("slow", (60, 90), "hay"),
        feel_of("fast", (100, 140), "hay"),
        feel_of("mid", (90, 100), "hay"),
        feel_of("lone", (90, 130), "straw"),
    )
    performance = perform_chart(f"tempo: 120\n{TWO.format(end=60)}", library)
    assert told(performance) == ["feel: fast, for Hay; others for it: mid, slow"]
    assert {bar.feel for bar in performance.bars} == {"fast"}, "a band keeps its feel"
    lone = perform_chart(f"tempo: 120\n{TWO.format(end=60)}", library, PerformOptions(feel="STRAW"))
    assert told(lone) == ["feel: lone, for STRAW"]


def test_a_band_keeps_the_feel_of_a_word_in_all_sections_of_a_meter() -> None:
    library = library_of(
        feel_of("slow", (60, 90), "hay"),
        feel_of("fast", (100, 140), "hay"),
        feel_of("in three", (100, 140), "hay", meter="3/4"),
    )
    text = (
        "a:\n  feel: hay\n  tempo: 120\n  | C | (3/4) C |\nb:\n  feel: HAY\n  tempo: 70\n  | C |\n"
    )
    performance = perform_chart(text, library)
    assert [bar.feel for bar in performance.bars] == ["fast"] * 3


def test_a_section_in_another_meter_has_the_feel_of_that_meter() -> None:
    library = library_of(
        feel_of("in four", (60, 90), "hay"), feel_of("in three", (60, 90), "hay", meter="3/4")
    )
    text = "tempo: 80\nfeel: hay\na:\n| C |\nb:\n  meter: 3/4\n  | C |\n"
    performance = perform_chart(text, library)
    assert [bar.feel for bar in performance.bars] == ["in four", "in three"]


def test_a_bar_of_another_meter_gives_its_feel_to_no_other_section() -> None:
    library = library_of(
        feel_of("in four", (60, 90), "hay"), feel_of("in three", (60, 90), "hay", meter="3/4")
    )
    text = "tempo: 80\nfeel: hay\na:\n| C | (3/4) C |\nb:\n  meter: 3/4\n  | C |\n"
    performance = perform_chart(text, library)
    assert [bar.feel for bar in performance.bars] == ["in four", "in four", "in three"]


@pytest.mark.parametrize(
    "options",
    [PerformOptions(tempo_percent=Fraction(50)), PerformOptions(tempo_bpm=Fraction(70))],
)
def test_a_slow_rehearsal_keeps_the_feel(options: PerformOptions) -> None:
    library = library_of(feel_of("slow", (60, 90), "hay"), feel_of("fast", (100, 140), "hay"))
    song = parse_chart("tempo: 130\nfeel: hay\na:\n| C | C |\n")
    assert perform_song(song, library, options).bars[0].feel == "fast"


def test_every_feel_is_found_by_the_words_of_the_bandstand(library: Library) -> None:
    assert [word for word in BANDSTAND if not named_feels(library, word)] == []
    names = set(map(fold_name, library.feels))
    for feel in library.feels.values():
        assert feel.also, feel.name
        assert not names & set(map(fold_name, feel.also)), (feel.name, "a name is found first")
    assert len(names) > 30 and len(BANDSTAND) == 20


@pytest.mark.parametrize(
    ("word", "meter", "tempo", "feel"),
    [
        ("funk", "4/4", 80, "sixteenths"),
        ("disco", "4/4", 118, "octaves"),
        ("reggae", "4/4", 74, "one drop"),
        ("blues", "4/4", 120, "shuffle"),
        ("blues", "4/4", 56, "slow twelve-eight"),
        ("blues", "12/8", 120, "shuffle"),
        ("salsa", "4/4", 190, "tumbao"),
        ("latin", "4/4", 120, "bossa"),
        ("jazz", "4/4", 160, "walking"),
        ("jazz", "5/4", 160, "five-four"),
        ("country", "4/4", 110, "two-beat"),
        ("country", "3/4", 110, "waltz"),
        ("rock", "4/4", 120, "straight eighths"),
        ("pop", "4/4", 70, "ballad"),
        ("swing", "4/4", 150, "walking"),
        ("dixieland", "4/4", 180, "swing in two"),
        ("jazz", "3/4", 150, "jazz waltz"),
        ("latin", "4/4", 80, "bolero"),
        ("salsa", "4/4", 120, "cha-cha"),
        ("latin", "4/4", 230, "samba"),
        ("latin", "2/2", 110, "samba"),
        ("march", "4/4", 110, "two-beat"),
        ("gospel", "12/8", 70, "gospel twelve-eight"),
        ("gospel", "4/4", 110, "soul"),
        ("punk", "4/4", 200, "driving eighths"),
        ("metal", "4/4", 140, "half-time"),
        ("hip hop", "4/4", 86, "laid-back sixteenths"),
        ("funk", "4/4", 118, "one-chord funk"),
        ("house", "4/4", 124, "octaves"),
        ("afrobeat", "4/4", 108, "one-chord funk"),
        ("boom bap", "4/4", 88, "laid-back sixteenths"),
        ("hard rock", "4/4", 126, "straight eighths"),
        ("americana", "4/4", 100, "two-beat"),
        ("trip hop", "4/4", 84, "laid-back sixteenths"),
    ],
)
def test_what_a_word_means(library: Library, word: str, meter: str, tempo: int, feel: str) -> None:
    text = f"meter: {meter}\ntempo: {tempo}\nfeel: {word}\na:\n| C |\n"
    assert perform_chart(text, library).bars[0].feel == feel


@pytest.mark.parametrize("word", ["jazz", "rock", "reggae"])
def test_a_style_that_the_meter_cannot_have_takes_the_meters_own_feel(
    library: Library, word: str
) -> None:
    """Two dotted beats are no bar of four, three or five quarters (see ``cells.fit``)."""
    performance = perform_chart(f"meter: 6/8\ntempo: 60\nfeel: {word}\na:\n| C |\n", library)
    assert performance.bars[0].feel == "six-eight"
    assert told(performance) == [
        f"feel: six-eight, the usual one in 6/8: no feel for {word} fits that meter"
    ]


@pytest.mark.parametrize(
    ("meter", "tempo", "range_and_tempo"),
    [
        # `groove feels` says 64-84; a half note has two of its beats.
        ("4/4", "150", "♩ 64-84, the song has 150"),
        ("4/4", "104", "♩ 64-84, the song has 104"),
        ("4/4", "40", "♩ 64-84, the song has 40"),
        ("2/2", "75.5", "𝅗𝅥 32-42, the song has 75.5"),
        ("4/4", "88", ""),
        ("4/4", "60", ""),
        ("2/2", "38", ""),
    ],
)
def test_a_tempo_far_from_the_feels_own_is_said(
    library: Library, meter: str, tempo: str, range_and_tempo: str
) -> None:
    text = f"meter: {meter}\ntempo: {tempo}\nfeel: reggae\na:\n| C |\n"
    end = f"; it is made for {range_and_tempo}" if range_and_tempo else ""
    assert told(perform_chart(text, library)) == [f"feel: one drop, for reggae{end}"]


def test_driving_eighths_are_for_180_and_over(library: Library) -> None:
    """Common practice, no source; the others' tempi are theirs to say."""
    assert library.feels["driving eighths"].tempo_beats[0] == 180


def test_no_feel_and_no_style(library: Library) -> None:
    with pytest.raises(ChartError) as caught:
        perform_chart("feel: funki\na:\n| C |\n", library)
    assert caught.value.hint.startswith("nearest: funk; expected one of: ballad, ")
    assert " ".join(caught.value.hint.split()).endswith(
        "walking, waltz, or a style that 'groove feels' lists"
    )
    with pytest.raises(OptionError, match="no such feel: 'zzz'"):
        perform_chart("a:\n| C |\n", library, PerformOptions(feel="zzz"))


def hint_for(library: Library, setting: str) -> str:
    """Return what is said of a name that is not known."""
    with pytest.raises(ChartError) as caught:
        perform_chart(f"{setting}\na:\n| C |\n", library)
    return caught.value.hint


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("shufle", "shuffle"),
        ("regae", "reggae"),
        ("jaz", "jazz"),
        ("wlaking", "walking"),
        ("bosanova", "bossa nova"),
        ("motor", ""),
        ("wavy", ""),
        ("picked", ""),
    ],
)
def test_a_nearest_feel_is_offered_only_where_it_is_near(
    library: Library, word: str, near: str
) -> None:
    """The first are slips of the fingers, the last have another sense (common practice)."""
    start = f"nearest: {near}; expected" if near else "expected"
    assert hint_for(library, f"feel: {word}").startswith(f"{start} one of: ballad, ")


@pytest.mark.parametrize("tone", ["slap", "Fretless", "pick"])
def test_a_tone_of_the_bass_is_no_feel(library: Library, tone: str) -> None:
    said = hint_for(library, f"feel: {tone}")
    assert said.startswith(f"{tone.lower()} is a sound of the bass: bass tone: {tone.lower()}; ")
    assert perform_chart(f"bass tone: {tone}\na:\n| C |\n", library).notes


@pytest.mark.parametrize("setting", ["feel: zzz", "bass: zzz", "drums: zzz"])
def test_a_long_list_of_names_is_set_in_lines_that_break_no_name(
    library: Library, setting: str
) -> None:
    kind = setting.split(":")[0]
    known = {
        "feel": {feel.name for feel in library.feels.values()},
        "bass": {cell.name for cell in library.bass.values()},
        "drums": {cell.name for cell in library.drums.values()},
    }[kind]
    lines = hint_for(library, setting).removeprefix("expected one of: ").split("\n    ")
    assert len(lines) > 2 and max(map(len, lines)) <= 100
    whole = {name for line in lines for name in line.rstrip(",").split(", ")}
    assert len(known) > 20 and known <= whole


def test_a_feel_without_a_word_has_none() -> None:
    feel: Feel = read_feel(FEEL, "x.toml")
    assert feel.also == ()
