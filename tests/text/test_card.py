"""The cue card, as text, HTML and PDF; what it must say is in the handbooks' words.

Movement in frets and strings: arithmetic of strings a fourth apart (common practice, no source).
"""

from html.parser import HTMLParser

import pytest

from groove.chart.parse import parse_chart
from groove.chart.written_for import parse_written_for
from groove.cut import piece
from groove.harmony.analysis import analyse
from groove.io.library import load_library
from groove.io.pdf import pdf_bytes
from groove.neck.fingering import finger_performance
from groove.pipeline import perform_chart
from groove.sheet.card_pdf import card_typst, typst_string
from groove.text.card import card_text, song_card
from groove.text.card_html import card_html
from groove.text.harmony import harmony_text
from groove.text.moves import neck_words, pretty, root_move_text
from groove.text.part_facts import PartFacts, part_facts
from groove.text.tab import tab_text

CHART = """title: Lamp & <Tide>
tempo: 84
pickup: 2
verse:
| D | A | Bm | G |
| D | A | G | <A |
chorus:
| G | A | D | Bm |
last chorus:
| G | A | D | D7 |
bridge:
| Em | A | (3/4) G |
form: verse x2, chorus, bridge, last chorus
"""


def test_what_the_card_says() -> None:
    text = card_text(song_card(analyse(parse_chart(CHART))))
    for words in (
        "Key     D major",
        "Tempo   ♩ = 84, 4/4",
        "Length  27 bars",
        "Form    verse ×2, chorus, bridge, last chorus",
        "chorus, last chorus",
        "a pickup of 2 beats",
        "last chorus: as chorus, last bar differs: D7",
        "odd length: bridge 3 bars",
        "3/4: bridge bar 3",
        "push: into A verse bar 8",
        "Count   1 2 3 4, 1 2, in on 3",
        "Watch out for:\n",
    ):
        assert words in text, words
    assert text.count("vi") >= 1


def test_the_start_position_sounds_the_first_root() -> None:
    # D1 does not exist on a bass in fourths from E1; D2 is the open third string above E.
    assert "Start   D: D string, open" in card_text(song_card(analyse(parse_chart(CHART))))


@pytest.mark.parametrize(
    ("whom", "key", "verse", "sounds"),
    [
        ("Bb", "E", "| E | B | C♯m | A |", "for B♭ instruments, sounds in D major"),
        ("Eb", "B", "| B | F♯ | G♯m | E |", "for E♭ instruments, sounds in D major"),
        ("capo 2", "C", "| C | G | Am | F |", "capo 2, sounds in D major"),
    ],
)
def test_a_card_for_another_player(whom: str, key: str, verse: str, sounds: str) -> None:
    """D, A, Bm, G as read a tone higher, a minor third lower, and below a capo (intervals)."""
    player = parse_written_for(whom)
    harmony = analyse(parse_chart("key: D\n" + CHART))
    rows = card_text(song_card(harmony, written_for=player)).splitlines()
    assert rows[2:4] == [f"Written {sounds}", f"Key     {key} major"]
    assert verse in [" ".join(row.split()) for row in rows]
    assert not [row for row in rows if "Start" in row or "chart says" in row]
    played = perform_chart(CHART, load_library())
    part = part_facts(finger_performance(played)[0])
    assert part.hook and part.feel
    made = song_card(harmony, written_for=player, part=part)
    assert made.hook == () and dict(made.facts)["Feel"] == part.feel


TURNED = """key: A minor
verse:
| Am | F | C | G |
v2:
as: verse
bar 2: | Dm7 / / G7 |
v3:
| Am | F | C | E7 |
"""


def test_a_shared_progression_names_the_chords_that_differ() -> None:
    """What the chart itself has in those bars, as it is written there."""
    text = card_text(song_card(analyse(parse_chart(TURNED))))
    assert "v2: as verse, bar 2 differs: Dm7 / / G7\n" in text
    assert "v3: as verse, last bar differs: E7\n" in text
    told = harmony_text(analyse(parse_chart(TURNED)))
    assert "v2: 4 bars, as verse, bar 2 differs: Dm7 / / G7\n" in told


def test_chords_that_differ_or_lead_in_are_answers_of_a_test_card() -> None:
    chart = TURNED.replace("key: A minor", "key: A minor\npickup: 1 | E7sus4 |")
    for made in (song_card(analyse(parse_chart(chart)), test=True),):
        questions, answers = card_text(made).split("\f")
        assert "v2: as verse, bar 2 differs\n" in questions
        assert [c for c in ("Dm7", "G7", "E7") if c in questions] == []
        assert [c for c in ("Dm7 / / G7", "differs: E7", "E7sus4") if c not in answers] == []
        html_questions, html_answers = card_html(made).split("</section>")[:2]
        assert "Dm7" not in html_questions
        assert "Dm7 / / G7" in html_answers
        assert "E7" not in card_typst(made).split("answers")[0]


def test_bars_put_in_are_named_with_their_chords_and_pushes_hidden() -> None:
    chart = "verse:\n| D | A | Bm | G |\nlong:\n| D | A | Bm | G | <F#m |\n"
    questions, answers = card_text(song_card(analyse(parse_chart(chart)), test=True)).split("\f")
    assert "long: as verse, last bar added\n" in questions
    assert "long: as verse, last bar added: <F♯m\n" in answers
    assert "push" not in questions
    assert "push: into F♯m long bar 5" in answers


@pytest.mark.parametrize(
    ("first", "place", "told"),
    [
        ("C", (3, 7), "E: A string, fret 7"),  # A1 and seven half steps: E2
        ("C", (3, 3), "C: A string, fret 3"),
        ("C7", (3, 1), "B♭: A string, fret 1"),  # the seventh of the chord
        ("C", (3, 9), "F♯: A string, fret 9"),  # in C, the raised fourth
        ("Eb", (4, 0), "E: E string, open"),
    ],
)
def test_the_start_is_the_note_that_is_fretted(
    first: str, place: tuple[int, int], told: str
) -> None:
    """Frets of strings E A D G from E1, a half step each (common practice, no source)."""
    chart = f"key: C\nverse:\n| {first} | F | G | C |\n"
    text = card_text(song_card(analyse(parse_chart(chart)), part=PartFacts(start=place)))
    assert f"Start   {told}\n" in text


def test_a_test_card_hides_the_chords_and_answers_on_a_second_page() -> None:
    questions, answers = card_text(song_card(analyse(parse_chart(CHART)), test=True)).split("\f")
    assert "____" in questions
    assert "Bm" not in questions
    assert "| D " not in questions
    assert "Bm" in answers
    assert answers.startswith("Lamp & <Tide> (answers)")


class Tags(HTMLParser):
    """Collects tags and texts as a browser would see them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_html_escapes_the_chart_and_fetches_nothing() -> None:
    page = card_html(song_card(analyse(parse_chart(CHART)), test=True))
    reader = Tags()
    reader.feed(page)
    assert "tide" not in reader.tags
    assert "Lamp & <Tide>" in reader.texts
    assert reader.tags.count("section") == 2
    assert not {"script", "link", "img"} & set(reader.tags)
    assert "://" not in page
    assert "default-src 'none'" in page


def page_count(pdf: bytes) -> int:
    """Pages by the page tree's leaves (ISO 32000-1, 7.7.3.3), which typst leaves uncompressed."""
    return pdf.count(b"/Type /Page\n") + pdf.count(b"/Type/Page/") + pdf.count(b"/Type /Page/")


@pytest.mark.parametrize("test", [False, True])
def test_the_pdf_has_one_page_and_one_for_the_answers(test: bool) -> None:
    pdf = pdf_bytes(card_typst(song_card(analyse(parse_chart(CHART)), test=test)))
    assert pdf.startswith(b"%PDF-")
    assert page_count(pdf) == (2 if test else 1)


def test_a_very_long_song_still_fits_on_one_page() -> None:
    letters = "ABCDEFG"
    sections = [
        f"part {n}:\n| {letters[n % 7]}m7 | {letters[n * 3 % 7]} | {letters[n * 5 % 7]}7 | C |"
        for n in range(40)
    ]
    card = song_card(analyse(parse_chart("\n".join(sections))))
    assert page_count(pdf_bytes(card_typst(card))) == 1


def test_markup_of_typst_in_a_chart_stays_text() -> None:
    title = 'a "b" \\ #panic() $x$ *c* [d] \t e'
    chart = f"title: {title}\n#panic(1):\n| C |\n".replace("#panic(1)", "x#y")
    assert pdf_bytes(card_typst(song_card(analyse(parse_chart(chart))))).startswith(b"%PDF-")
    assert typst_string('"\\') == '"\\"\\\\"'


@pytest.mark.parametrize(
    ("semitones", "words"),
    [
        (-5, "same fret, next string down"),
        (5, "same fret, next string up"),
        (7, "up two frets, next string up"),
        (-7, "down two frets, next string down"),
        (2, "up two frets"),
        (-2, "down two frets"),
        (4, "down one fret, next string up"),
        (10, "same fret, two strings up"),
        (12, "up two frets, two strings up"),
    ],
)
def test_intervals_on_the_neck(semitones: int, words: str) -> None:
    assert neck_words(semitones) == words


def test_a_move_is_told_both_ways_nearest_first() -> None:
    assert root_move_text(7) == (
        "down a fourth: same fret, next string down; or up a fifth: up two frets, next string up"
    )


def test_every_move_of_the_neck_sounds_its_interval() -> None:
    counts = {"one": 1, "two": 2, "three": 3, "four": 4, "next": 1}
    compared = 0
    for semitones in (*range(1, 12), *range(-11, 0)):
        total = 0
        for part in neck_words(semitones).split(", "):
            words = part.split()
            if words[0] == "same":
                continue
            sign = 1 if "up" in words else -1
            count = next(counts[word] for word in words if word in counts)
            total += sign * count * (5 if "string" in part else 1)
        assert total == semitones
        compared += 1
    assert compared == 22


@pytest.mark.parametrize(
    ("plain", "shown"),
    [
        ("F#m7/C#", "F♯m7/C♯"),
        ("Bb", "B♭"),
        ("Ebb7", "E♭♭7"),
        ("C7b9", "C7♭9"),
        ("Absus4", "A♭sus4"),
    ],
)
def test_signs(plain: str, shown: str) -> None:
    assert pretty(plain) == shown


def test_the_moves_of_a_long_progression_are_wrapped() -> None:
    chart = (
        "title: T\nkey: Eb\nverse:\n| Eb | Cm7 | Fm7 | Bb7 | Gm7 C7 | Fm7 Abm6 | Eb/Bb | Bb7 |\n"
    )
    text = card_text(song_card(analyse(parse_chart(chart))))
    start = text.index("  roots from E♭")
    moves = text[start : text.index("  bass E♭")].splitlines()
    assert len(moves) >= 3
    assert max(map(len, moves)) <= 80
    assert all(line.startswith("    ") for line in moves[1:])


def test_traps_are_grouped_and_their_heading_needs_one_to_show() -> None:
    chart = (
        "verse:\n| D | A | Bm | (3/4) G | (4/4) D | A | G | <A |\n"
        "chorus:\n| G | <A | D | (3/4) Bm |\nform: verse, chorus, verse, chorus\n"
    )
    text = card_text(song_card(analyse(parse_chart(chart))))
    assert text.count("3/4: verse bar 4, chorus bar 4\n") == 1
    assert "4/4:" not in text
    assert "push: into A verse bar 8, into A chorus bar 2\n" in text
    only_pushes = song_card(analyse(parse_chart("verse:\n| D | <A | Bm | G |\n")), test=True)
    questions, answers = card_text(only_pushes).split("\f")
    assert ("Watch out" in questions, "Watch out" in answers) == (False, True)
    assert "Watch out" not in card_html(only_pushes).split("</section>")[0]
    assert "Watch out" not in card_typst(only_pushes).split("answers")[0]


def test_what_comes_after_a_section_is_told_in_order() -> None:
    chart = (
        "verse:\n| D | A |\nchorus:\n| G | A |\nbridge:\n| Em | A |\n"
        "form: verse, chorus x2, verse, chorus, bridge, chorus\n"
    )
    text = card_text(song_card(analyse(parse_chart(chart))))
    assert "  after chorus: first verse, then bridge\n" in text
    assert "after verse" not in text


@pytest.mark.parametrize(
    ("head", "count"),
    [
        # Common practice, no source: a bar of beats, then the rest of the pickup's bar.
        ("meter: 4/4", "1 2 3 4"),
        ("meter: 3/4", "1 2 3"),
        ("meter: 6/8", "1 2"),
        ("meter: 12/8", "1 2 3 4"),
        ("meter: 7/8", "1 2 3 4 5 6 7"),
        ("pickup: 1", "1 2 3 4, 1 2 3, in on 4"),
        ("pickup: 3 eighths", "1 2 3 4, 1 2 3, in after 3"),
        ("pickup: 3", "1 2 3 4, 1, in on 2"),
    ],
)
def test_the_count(head: str, count: str) -> None:
    text = card_text(song_card(analyse(parse_chart(f"{head}\nverse:\n| D | A |\n"))))
    assert f"Count   {count}\n" in text


def test_the_hook_is_two_bars_of_the_tab() -> None:
    """The chart's own riff where it has one, else the section that is played most."""
    own = "riff lamp:\n  R - 3 5 - R 5 8 | R - 5 - 8 - 5 -\n"
    song = "tempo: 90\nfeel: straight eighths\nintro:\n| D | D | D | D |\n"
    verse = "verse:\n{bass}| G | A | G | A | G | A | G | A |\n"
    compared = 0
    for text, name in (
        (song + verse.format(bass=""), "Line: verse bars 1–2"),
        (own + song + verse.format(bass="bass: lamp\n"), "Hook: verse bars 1–2"),
    ):
        performance, _ = finger_performance(perform_chart(text, load_library()))
        facts = part_facts(performance)
        assert facts.hook_name == name
        assert facts.feel == "straight eighths"
        whole = tab_text(piece(performance, bars=range(5, 7)), width=72).splitlines()
        strings = [row for row in whole if row[:3] in ("G |", "D |", "A |", "E |")]
        assert [row for row in facts.hook if row[:3] in ("G |", "D |", "A |", "E |")] == strings
        compared += len(strings)
        card = song_card(analyse(parse_chart(text)), part=facts, test=True)
        questions, answers = card_text(card).split("\f")
        assert name not in questions
        assert f"{name}\n" + "\n".join(facts.hook) in answers
        assert name not in card_html(card).split("</section>")[0]
        assert name in card_html(card).split("</section>")[1]
        hidden, shown = card_typst(card).split("#pagebreak()")
        assert (facts.hook[1] in hidden, facts.hook[1] in shown) == (False, True)
    assert compared == 8


def test_a_key_is_told_once_a_section_and_home_not_again() -> None:
    chart = (
        "verse:\nkey: C\n| C | F | G7 | C |\nbridge:\nkey: Eb\n| Eb | Ab | Bb7 | Eb |\n"
        "form: verse, bridge, verse, bridge, verse\n"
    )
    text = card_text(song_card(analyse(parse_chart(chart))))
    assert text.count("E♭ major in bridge, from bar 5, direct") == 1
    assert "  new key: bridge moves to E♭ major\n" in text
    assert "C major in verse" not in text


def test_a_card_has_the_charts_key_whatever_the_chords_alone_say() -> None:
    """The chords of C major throughout, in a chart that says A minor."""
    known = analyse(parse_chart("key: A minor\nverse:\n| C | F | G7 | C |\n"))
    assert "the chords alone" in harmony_text(known)
    rows = card_text(song_card(known)).splitlines()
    assert "Key     A minor, as the chart says" in rows
