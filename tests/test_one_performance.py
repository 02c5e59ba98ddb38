"""One performance that keeps its facts: keys, modes, chords, pushes and levels, each known once."""

import io
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest
from mido import MidiFile
from music21 import key as music21_key
from pypdf import PdfReader

import groove.chart.form as form
import groove.theory.chords as chords
from groove.bar_place import SectionKind
from groove.cells.model import Library
from groove.chart.model import Section
from groove.chart.parse import parse_chart
from groove.cli.performing import HEARD_ONLY
from groove.cut import with_count_in
from groove.events import Part, Performance
from groove.harmony.analysis import analyse
from groove.io import practice_page
from groove.io.engrave import sheet_pdf
from groove.io.midi import midi_bytes
from groove.io.samples import SampleSet
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.notices import NoticeKind
from groove.pipeline import (
    PerformOptions,
    analyse_song,
    perform_analysis,
    perform_chart,
    perform_song,
)
from groove.sheet.build import build_score
from groove.sheet.marks import accented
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions
from groove.text.chart import chart_text
from groove.text.notices import notice_texts
from tests.cli.command import Command
from tests.conftest import ROOT

CHARTS = sorted((ROOT / "shared" / "charts").glob("*.txt"))
XML_MODES = {
    *("major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian"),
    "locrian",
}
"""MusicXML 4.0's list (element ``mode``)."""
IS_MINOR = {
    "major": False, "minor": True, "dorian": True, "phrygian": True, "lydian": False,
    "mixolydian": False, "locrian": True, "ionian": False, "aeolian": True,
}  # fmt: skip
"""By the third over the tonic: the nearer of the two modes that a MIDI file knows."""
TONICS = ("D", "G", "Bb")


def modal_chart(tonic: str, mode: str) -> str:
    """A chart of two bars that states its key."""
    return f"title: Lamp\nkey: {tonic} {mode}\nfeel: ballad\nverse:\n| {tonic}5 | {tonic}5 |\n"


@pytest.mark.parametrize(("mode", "tonic"), list(zip(sorted(XML_MODES), TONICS * 3, strict=True)))
def test_a_mode_is_named_as_what_it_is_everywhere(mode: str, tonic: str, library: Library) -> None:
    """Sharps of a mode, and tonics of the nearer key, by music21."""
    judge = music21_key.Key(tonic.replace("b", "-"), mode)
    song = parse_chart(modal_chart(tonic, mode))
    analysis = analyse(song)
    performance = perform_analysis(analysis, library)
    named = f"{tonic} {mode}"
    assert named in chart_text(song, analysis.bars, analysis.starts_sec[-1])

    placed, _ = finger_performance(performance, tuning=STANDARD)
    xml = musicxml_text(build_score(placed, song), song)
    (stated,) = ElementTree.fromstring(xml.split("\n", 2)[2]).iter("key")
    assert stated.findtext("mode") == mode
    assert stated.findtext("fifths") == str(judge.sharps)

    file = MidiFile(file=io.BytesIO(midi_bytes(performance)))
    (told,) = [m.key for track in file.tracks for m in track if m.type == "key_signature"]
    nearer = "minor" if IS_MINOR[mode] else "major"
    tonic_there = music21_key.KeySignature(judge.sharps).asKey(nearer).tonic.name
    assert told == tonic_there.replace("-", "b") + ("m" if IS_MINOR[mode] else "")
    notices = [n for n in performance.notices if n.kind is NoticeKind.MODE]
    words = notice_texts(notices)
    assert len(words) == (mode not in ("major", "minor"))
    assert all(named in line and f"{told.rstrip('m')} {nearer}" in line for line in words)


@pytest.mark.parametrize("mode", ["major", "dorian", "aeolian"])
def test_print_names_the_mode(mode: str, library: Library) -> None:
    song = parse_chart(modal_chart("D", mode))
    placed, _ = finger_performance(perform_song(song, library), tuning=STANDARD)
    for options in (SheetOptions(), SheetOptions(chart=True)):
        text = PdfReader(io.BytesIO(sheet_pdf(placed, song, options))).pages[0].extract_text()
        assert f"D {mode}" in " ".join(text.split())


@pytest.mark.parametrize(("mode", "plain"), [("ionian", "major"), ("aeolian", "minor")])
@pytest.mark.parametrize("feel", ["walking", "sixteenths", "ballad"])
def test_two_names_of_one_scale_sound_the_same(
    mode: str, plain: str, feel: str, library: Library
) -> None:
    """Ionian is the major scale and aeolian the natural minor one (MusicXML 4.0, ``mode``)."""
    text = "title: Lamp\nkey: D {}\nchords: numbers\nfeel: {}\nverse:\n| 1 | 6 | 4 | 57 |\n"
    one, other = (perform_chart(text.format(name, feel), library) for name in (mode, plain))
    assert one.notes == other.notes
    assert len(one.notes) > 40
    assert [bar.key.name for bar in one.bars] == [f"D {mode}"] * 4


def test_show_and_part_name_the_same_key(groove: Command, tmp_path: Path) -> None:
    (tmp_path / "lamp.txt").write_text(modal_chart("D", "dorian"), encoding="utf-8")
    assert "D dorian" in groove("show", "lamp.txt").out
    said = groove("tab", "lamp.txt")
    assert "MIDI" not in said.err  # tab names no signature, so there is nothing to tell
    assert NoticeKind.MODE in HEARD_ONLY
    assert "A minor" in groove("render", "lamp.txt", "-o", "lamp.mid").err


def test_a_change_of_mode_under_one_signature_is_written(library: Library) -> None:
    text = "verse:\n  key: C\n| C | F |\nbridge:\n  key: D dorian\n| Dm | G |\n"
    song = parse_chart(text)
    placed, _ = finger_performance(perform_song(song, library), tuning=STANDARD)
    xml = musicxml_text(build_score(placed, song), song)
    keys = ElementTree.fromstring(xml.split("\n", 2)[2]).iter("key")
    found = [(key.findtext("fifths"), key.findtext("mode")) for key in keys]
    assert found == [("0", "major"), ("0", "dorian")]


def test_modes_of_one_midi_signature_are_signed_once(library: Library) -> None:
    """D dorian and A minor are both A minor to MIDI (meta event 59); G mixolydian is C major."""
    keys = zip(("verse", "bridge", "chorus"), ("D dorian", "A minor", "G mixolydian"), strict=True)
    text = "".join(f"{name}:\n  key: {key}\n| Am | G |\n" for name, key in keys)
    file = MidiFile(file=io.BytesIO(midi_bytes(perform_chart(text, library))))
    told = [m.key for track in file.tracks for m in track if m.type == "key_signature"]
    assert told == ["Am", "C"]


# --- the keys that our own analysis states ------------------------------------------------------

IN_TWO_KEYS = (
    ("verse", "| Am | F | C | G | Am | F | G | C |\n"),
    ("chorus", "| E | A | B7 | E | C#m | F#m | B7 | E |\n"),
    ("bridge", "| Dm7 | G7 | Em7 | A7 | Dm7 | G7 | C | C |\n"),
)
FORM = "form: verse, chorus, verse, chorus, bridge, chorus\n"


def chart_in_keys(keys: dict[str, str], head: str) -> str:
    """The chart with the keys of some sections stated."""
    parts = []
    for name, bars in IN_TWO_KEYS:
        stated = f"  key: {keys[name]}\n" if name in keys else ""
        parts.append(f"{name}:\n{stated}{bars}")
    return head + "".join(parts) + FORM


@pytest.mark.parametrize("feel", ["sixteenths", "walking", "shuffle", "octaves", "bossa"])
def test_stating_the_keys_that_the_analysis_states_changes_no_note(
    feel: str, library: Library
) -> None:
    """Common practice, no source: band and analysis go by the same keys."""
    head = f"tempo: 100\nfeel: {feel}\n"
    plain = chart_in_keys({}, head)
    analysis = analyse(parse_chart(plain))
    sections = zip(analysis.form.occurrences, analysis.section_keys, strict=True)
    keys = {occurrence.name: key.name for occurrence, key in sections}
    assert keys["chorus"].startswith("E ")  # E, A and B7: the three chords of E major
    assert not keys["verse"].startswith("E ")
    without = perform_chart(plain, library)
    stated = perform_chart(chart_in_keys(keys, head), library)
    assert stated.notes == without.notes
    assert [bar.key for bar in stated.bars] == [bar.key for bar in without.bars]
    assert len(without.notes) > 900
    names = [bar.key.name for bar in without.bars]
    assert names == [keys[bar.ref.section] for bar in without.bars]


def test_the_keys_that_are_found_are_played(library: Library) -> None:
    """In a song that is played in its verse's key throughout, the chorus has other notes."""
    head = "tempo: 100\nfeel: walking\n"
    found = perform_chart(chart_in_keys({}, head), library)
    one = chart_in_keys({name: "C" for name, _ in IN_TWO_KEYS}, head)
    in_one = perform_chart(one, library).part_notes(Part.BASS)
    pairs = list(zip(found.part_notes(Part.BASS), in_one, strict=False))
    changed = {note.origin.bar.section for note, other in pairs if note.pitch != other.pitch}
    assert "chorus" in changed  # in E, where C major would have it walk over naturals
    assert len(pairs) > 150


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_an_analysis_is_moved_as_the_song_is(path: Path, library: Library) -> None:
    """Moved and analysed, or analysed and moved: the same chords, numerals and keys."""
    song = parse_chart(path.read_text(encoding="utf-8"))
    analysis = analyse_song(song)
    compared = 0
    for semitones in (-5, -1, 3, 6):
        moved = analysis.transposed(semitones)
        anew = analyse(moved.song)
        assert moved.bars == anew.bars
        assert moved.section_keys == anew.section_keys
        assert moved.form == anew.form
        assert [c.change.function for c in moved.changes] == [
            c.change.function for c in anew.changes
        ]
        assert [c.change.of for c in moved.changes] == [c.change.of for c in anew.changes]
        assert [c.change.numeral for c in moved.changes] == [c.change.numeral for c in anew.changes]
        # A bass of G sharp is moved to C, not to B sharp: the song's own numbers keep its name.
        assert [c.change.number for c in moved.changes] == [
            c.change.number for c in analysis.changes
        ]
        assert [c.description for c in moved.progressions] == [
            c.description for c in anew.progressions
        ]
        assert moved.reading.key.tonic.pitch_class == anew.reading.key.tonic.pitch_class
        assert moved.starts_sec == anew.starts_sec
        compared += len(moved.changes)
    assert compared > 100


LENT = "title: Lent\nkey: D\nverse:\n| D | Bb | C | Gm |\n| D | Eb7 | D | A7 |\n"


def test_a_chord_is_the_same_of_its_key_in_every_key() -> None:
    """A numeral says a degree (common practice, no source); spelling A for B double flat is not it.

    B flat of D major is the flat six, and lent by D minor; so it is in every key.
    """
    analysis = analyse_song(parse_chart(LENT))
    numerals = [placed.change.numeral for placed in analysis.changes]
    assert numerals[:4] == ["I", "♭VI", "♭VII", "iv"]
    moves = [semitones for semitones in range(-6, 7) if semitones]
    for semitones in moves:
        moved = analysis.transposed(semitones)
        assert [placed.change.numeral for placed in moved.changes] == numerals
        assert moved.changes[1].change.of == f"{moved.key.tonic.pretty} minor"
        roots = [p.description.first for p in moved.progressions if p.description]
        assert roots == [(2 + semitones) % 12]
        assert moved.progressions[0].changes[0][0].bar is moved.bars[0]
    assert len(moves) == 12


# --- known once ---------------------------------------------------------------------------------


@pytest.fixture
def counts(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, int]]:
    """Count how often a form is unrolled and a chord symbol is really read."""
    found = {"unrolled": 0, "read": 0}
    places, build = form.form_places, chords.build_chord

    def counted_places(sections: list[Section]) -> object:
        found["unrolled"] += 1
        return places(sections)

    def counted_build(*arguments: object) -> object:
        found["read"] += 1
        return build(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(form, "form_places", counted_places)
    monkeypatch.setattr(chords, "build_chord", counted_build)
    chords.parse_chord.cache_clear()
    yield found
    chords.parse_chord.cache_clear()


CHART = "title: 1\nkey: D\nverse:\n| D A/C# | Bm7 G |\n| D <A | D |\nchorus:\n| G | Gm | D | A7 |\n"
SYMBOLS = {"D", "A/C#", "Bm7", "G", "A", "Gm", "A7"}
REPEATED = CHART + "form: verse x3, chorus, verse x2, chorus x4\n"


@pytest.mark.parametrize("head", ["", "feel: walking\n", "swing: 60% eighths\n"])
def test_a_performance_unrolls_once_and_reads_a_symbol_once(
    head: str, counts: dict[str, int], library: Library
) -> None:
    for keyless in (False, True):
        chords.parse_chord.cache_clear()
        counts.update(unrolled=0, read=0)
        text = head + (REPEATED.replace("key: D\n", "") if keyless else REPEATED)
        perform_chart(text, library)
        assert counts == {"unrolled": 1, "read": len(SYMBOLS)}


def test_a_page_unrolls_once_and_reads_a_symbol_once(
    counts: dict[str, int], library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two sheets, thirteen cards, thirteen keys of chord names; the sound is left out."""
    silence = SampleSet(rows=(), synthesizer="none", notice="")
    monkeypatch.setattr(practice_page, "sample_set", lambda *_, **__: silence)
    analysis = analyse_song(parse_chart(CHART + "form: verse, chorus x2\n"))
    placed, _ = finger_performance(perform_analysis(analysis, library), tuning=STANDARD)
    page = practice_page.practice_page(placed, analysis, font=Path("none"), tuning=STANDARD)
    assert len(page.html) > 50_000
    assert counts == {"unrolled": 1, "read": len(SYMBOLS)}


def test_nobody_but_readers_reads_a_chord_symbol() -> None:
    """What reads charts and scores may read symbols; what writes takes chords as values."""
    readers = {"chart", "io", "theory", "__init__.py"}  # which only hands the reader on
    found = set()
    for path in (ROOT / "groove").rglob("*.py"):
        if re.search(r"\bparse_chord\b", path.read_text(encoding="utf-8")):
            found.add(path.relative_to(ROOT / "groove").as_posix())
    # ``kinds`` has both ways of MusicXML's kinds; it reads the symbol that it makes of one.
    assert {name for name in found if name.split("/")[0] not in readers} == {"sheet/kinds.py"}
    assert len(found) > 4


# --- what a bar and a note carry ----------------------------------------------------------------


def played(text: str, library: Library, **options: object) -> Performance:
    return perform_chart(text, library, PerformOptions(**options))  # type: ignore[arg-type]


def test_bars_say_where_in_the_form_they_stand(library: Library) -> None:
    text = (
        "intro:\n| D |\nverse 1:\n| D | G |\nchorus:\n| A | D |\nverse 2:\n| G | D |\n"
        "out of town:\n| D |\n"
        "form: intro, verse 1, chorus, verse 2, chorus x2, out of town\n"
    )
    bars = played(text, library).bars
    places = [bar.place for bar in bars]
    assert [place.kind for place in places[:1] + places[1::2]] == [
        SectionKind.INTRO,
        SectionKind.VERSE,
        SectionKind.CHORUS,
        SectionKind.VERSE,
        SectionKind.CHORUS,
        SectionKind.CHORUS,
        SectionKind.OTHER,
    ]
    assert [place.bars_to_next for place in places] == [1, 2, 1, 2, 1, 2, 1, 2, 1, 2, 1, 1]
    choruses = [place for place in places if place.kind is SectionKind.CHORUS][::2]
    assert [(place.time, place.times) for place in choruses] == [(1, 3), (2, 3), (3, 3)]
    assert [place.is_last_time for place in choruses] == [False, False, True]
    verses = [place for place in places if place.kind is SectionKind.VERSE][::2]
    assert [(p.time, p.times, p.kind_time, p.kind_times) for p in verses] == [
        (1, 1, 1, 2),
        (1, 1, 2, 2),
    ]
    assert [place.is_last_of_kind for place in verses] == [False, True]
    assert places[0].next_kind is SectionKind.VERSE
    assert places[-1].next_kind is None


def test_bars_carry_swing_feel_word_and_key(library: Library) -> None:
    text = (
        "key: F\nfeel: ballad\nverse:\n| F | (stop) Bb |\n"
        "bridge:\n  feel: walking\n  key: D minor\n| Dm | Gm |\n"
    )
    bars = played(text, library).bars
    assert [bar.feel for bar in bars] == ["ballad"] * 2 + ["walking"] * 2
    assert [bar.word for bar in bars] == [None, "stop", None, None]
    assert [bar.key.name for bar in bars] == ["F major"] * 2 + ["D minor"] * 2
    assert bars[0].swing is None
    assert bars[2].swing is not None


@pytest.mark.parametrize(
    ("feel", "sign", "early"),
    # An eighth, a sixteenth, and in triplets the last of the three: 1/2, 1/4 and 1/3 of 960 ticks.
    [("octaves", "<", 480), ("octaves", "<<", 240), ("shuffle", "<", 320)],
)
def test_a_push_is_a_number_of_ticks(feel: str, sign: str, early: int, library: Library) -> None:
    text = f"key: D\nfeel: {feel}\nfills: none\nverse:\n| D | {sign}G | D | D |\n"
    performance = played(text, library, tight=True)
    onset = performance.bars[1].chords[0]
    assert (onset.tick, onset.sounding_tick, onset.symbol) == (0, -early, "G")
    for part in (Part.BASS, Part.KEYS):
        pushed = [n for n in performance.part_notes(part) if n.origin.pushed_ticks]
        assert {(n.grid_tick, n.origin.pushed_ticks) for n in pushed} == {(3840 - early, early)}
        assert {n.origin.onset for n in pushed} == {onset}
        assert {n.origin.bar.written_bar for n in pushed} == {1}


def test_what_a_chart_of_numbers_writes_is_kept(library: Library) -> None:
    text = "key: D\nchords: numbers\nverse:\n| 1 | 6- |\n"
    onsets = [onset for bar in played(text, library).bars for onset in bar.chords]
    assert [(onset.written, onset.symbol) for onset in onsets] == [("1", "D"), ("6-", "B-")]


@pytest.mark.parametrize("path", CHARTS[:3:2], ids=lambda path: path.stem)
def test_accents_are_stated_and_no_matter_of_chance(path: Path, library: Library) -> None:
    """However the hand happens to strike, the page has the accents that the tight part has.

    Of soul and of sixteenths: the other charts have none.
    """
    text = path.read_text(encoding="utf-8")
    tight = played(text, library, tight=True, seed=3)
    wanted = accents(tight, text)
    assert accents(played(text, library, seed=3), text) == wanted
    levels = [note.origin.level for note in tight.part_notes(Part.BASS)]
    assert all(level is not None and 1 <= level <= 9 for level in levels)
    assert len(levels) > 50
    assert 0 < len(wanted) <= len(levels)


def accents(performance: Performance, text: str) -> list[tuple[int, int]]:
    """Return bar and tick of every accent, whatever order the hand's shifts bring notes into."""
    ids = accented(performance, parse_chart(text), Part.BASS)
    return sorted(
        (note.grid_tick, note.pitch)
        for name, note in zip(performance.note_ids, performance.notes, strict=True)
        if name in ids
    )


def test_a_pushed_chord_and_a_loud_offbeat_are_accented(library: Library) -> None:
    text = "key: D\nfeel: octaves\nfills: none\nverse:\n| D | <G | D | D |\n"
    found = accents(played(text, library), text)
    assert 3840 - 480 in [tick for tick, _ in found]


def test_sections_swing_each_by_its_own_share(library: Library) -> None:
    """The second of a pair of eighths lies 60 % and 70 % into a quarter of 960 ticks."""
    bars = "| D | G | D | G |\n"
    text = (
        f"key: D\nfeel: octaves\nfills: none\n"
        f"verse:\n  swing: 60% eighths\n{bars}chorus:\n  swing: 70% eighths\n{bars}"
    )
    performance = played(text, library, tight=True)
    late: dict[str, set[int]] = {"verse": set(), "chorus": set()}
    for note in performance.part_notes(Part.BASS):
        if note.grid_tick % 960 == 480:
            late[note.origin.bar.section].add(note.shift_ticks)
    assert late == {"verse": {576 - 480}, "chorus": {672 - 480}}


def test_a_count_in_has_the_key_of_the_song_and_no_chords(library: Library) -> None:
    text = "key: F\nverse:\n| (stop) F | Bb |\n"
    counted = with_count_in(played(text, library)).bars[0]
    assert counted.key.name == "F major"
    assert counted.chords == ()
    assert counted.word is None


@pytest.mark.parametrize("is_chart", [False, True])
def test_a_sheet_is_headed_with_the_feel_that_plays(library: Library, is_chart: bool) -> None:
    """`dub` is a word for one drop, which `groove feels` says (common practice, no source)."""
    song = parse_chart("title: Lamp\ntempo: 74\nfeel: dub\nverse:\n| D | G |\n")
    placed, _ = finger_performance(perform_analysis(analyse(song), library), tuning=STANDARD)
    printed = sheet_pdf(placed, song, SheetOptions(chart=is_chart))
    head = PdfReader(io.BytesIO(printed)).pages[0].extract_text()
    assert "one drop" in head
    assert "dub" not in head
