"""The whole way: same seed, same bytes; one changed bar changes no other; sections stand alone."""

from functools import cache
from typing import NamedTuple

import pytest

from groove.cells.model import Library
from groove.events import Note, Part, Performance
from groove.io.library import load_library
from groove.io.midi import midi_bytes
from groove.pipeline import PerformOptions, perform_chart
from groove.text.reasons import reason_text
from tests.arrange.songs import chart

SONG = ["D", "G", "Em7", "A7", "D", "Bm", "G", "A"]
FEELS = ("sixteenths", "straight eighths", "octaves", "walking", "soul", "half-time")


class Seen(NamedTuple):
    """What design says stays of a note: pitch, place in its bar, touch, reason."""

    pitch: int
    offset: int
    touch: str
    cell: str
    role: str
    reason: str


def seen(performance: Performance, note: Note) -> Seen:
    """Return what stays of a note."""
    first = performance.bars[0].ref.played_bar
    start = performance.bars[note.origin.bar.played_bar - first].start_tick
    origin = note.origin
    return Seen(
        note.pitch,
        note.grid_tick - start,
        note.touch,
        origin.cell,
        origin.role,
        reason_text(origin),
    )


def by_bar(performance: Performance, part: Part) -> dict[tuple[str, int, int], list[Seen]]:
    """Return what is played in each bar, by section, occurrence and number."""
    found: dict[tuple[str, int, int], list[Seen]] = {}
    for note in performance.part_notes(part):
        ref = note.origin.bar
        key = (ref.section, ref.occurrence, ref.bar_in_section)
        found.setdefault(key, []).append(seen(performance, note))
    return found


@pytest.mark.parametrize("feel", FEELS)
def test_the_same_seed_gives_the_same_bytes_and_another_does_not(
    library: Library, feel: str
) -> None:
    text = chart({"verse": SONG, "chorus": SONG}, feel=feel, fills="many")
    first, again = (midi_bytes(perform_chart(text, library)) for _ in range(2))
    assert first == again
    assert first != midi_bytes(perform_chart(text, library, PerformOptions(seed=99)))


def changed_chart(verse: list[str], feel: str) -> str:
    """Return the song with other bars for a verse."""
    sections = {"verse": verse, "chorus": SONG, "end": ["D"]}
    return chart(sections, feel=feel, fills="many")


@cache
def unchanged(feel: str, part: Part) -> dict[tuple[str, int, int], list[Seen]]:
    """Return what is played in each bar of the song as it stands."""
    return by_bar(perform_chart(changed_chart(SONG, feel), load_library()), part)


@pytest.mark.parametrize("feel", FEELS)
@pytest.mark.parametrize("changed", [0, 2, 3, 4, 7])
def test_one_changed_bar_changes_no_other(library: Library, feel: str, changed: int) -> None:
    """The first bar, the middle, the end and the beginning of a phrase, the last bar."""
    other = [*SONG]
    other[changed] = "F#m"
    after = perform_chart(changed_chart(other, feel), library)
    for part in (Part.BASS, Part.DRUMS):
        old, new = unchanged(feel, part), by_bar(after, part)
        assert old.keys() == new.keys()
        differing = {key for key in old if old[key] != new[key]}
        assert differing <= {("verse", 1, changed + 1), ("verse", 1, changed)}
        if part is Part.DRUMS:
            assert differing == set() or differing <= {
                ("verse", 1, changed),
                ("verse", 1, changed + 1),
            }
        aiming = old.get(("verse", 1, changed), [])
        if ("verse", 1, changed) in differing and part is Part.BASS:
            # Only a fill, an approach, or a note turned towards the next root may differ there.
            news = new["verse", 1, changed]
            for a, b in zip(aiming, news, strict=False):
                if a != b:
                    roles = {a.role, b.role}
                    assert roles & {"approach", "fill", "walk"} or "towards" in a.reason + b.reason


def test_an_inserted_section_changes_no_other(library: Library) -> None:
    sections = {"verse": SONG, "chorus": SONG, "end": ["D"]}
    longer = {"verse": SONG, "bridge": SONG[:5], "chorus": SONG, "end": ["D"]}
    plain, inserted = (perform_chart(chart(s, fills="few"), library) for s in (sections, longer))
    compared = 0
    for part in (Part.BASS, Part.DRUMS, Part.KEYS):
        old, new = by_bar(plain, part), by_bar(inserted, part)
        for key, notes in old.items():
            # The last bar of the verse leads somewhere else now.
            if key != ("verse", 1, 8) and key[0] != "end":
                assert new[key] == notes
                compared += 1
    assert compared >= 40


def test_a_section_sounds_alike_each_time_where_nothing_varies(library: Library) -> None:
    sections = {"verse": SONG, "chorus": SONG}
    text = chart(sections, head="vary: none") + "form: verse, chorus, verse, chorus\n"
    notes = by_bar(perform_chart(text, library), Part.BASS)
    for number in range(1, 8):
        assert notes["verse", 1, number] == notes["verse", 2, number]


def test_every_note_says_why_it_is_there(library: Library) -> None:
    performance = perform_chart(chart({"verse": SONG, "chorus": SONG}, fills="many"), library)
    for note in performance.notes:
        origin = note.origin
        assert origin.cell
        assert origin.role
        assert origin.bar.written_bar >= 1
        if note.part is not Part.DRUMS:
            assert origin.symbol
    assert len(performance.notes) > 300
    assert len(set(performance.note_ids)) == len(performance.notes)


def test_keys_and_markers_of_the_whole_song_reach_the_performance(library: Library) -> None:
    text = "key: D\nverse:\n| D | G |\nbridge:\n  key: F\n| F | Bb |\nform: verse, bridge, verse\n"
    performance = perform_chart(text, library)
    # Two bars of 4/4 are 7680 ticks; D major has two sharps, F major one flat.
    signatures = [(bar.start_tick, bar.key.signature_fifths) for bar in performance.bars]
    assert signatures[::2] == [(0, 2), (7680, -1), (15360, 2)]
    markers = [(marker.tick, marker.text) for marker in performance.markers]
    assert markers == [(0, "verse"), (7680, "bridge"), (15360, "verse")]


def test_a_section_has_its_own_seed(library: Library) -> None:
    def text(seed: int) -> str:
        return f"key: D\nfeel: octaves\na:\n| D | G |\nb:\n  seed: {seed}\n| D | G |\n"

    first, second = (perform_chart(text(seed), library).part_notes(Part.BASS) for seed in (3, 4))
    for name, alike in (("a", True), ("b", False)):
        shifts = [
            [n.shift_ticks for n in p if n.origin.bar.section == name] for p in (first, second)
        ]
        assert (shifts[0] == shifts[1]) is alike


def test_parts_are_found_by_name_too(library: Library) -> None:
    performance = perform_chart(chart({"verse": SONG}), library)
    assert performance.part_notes(Part("bass"))
    assert performance.part_notes("bass") == performance.part_notes(Part.BASS)  # type: ignore[arg-type]


def test_a_band_keeps_the_instruments_it_begins_with(library: Library) -> None:
    """An inserted section changes no other, so not the sounds either."""
    text = "key: D\nfeel: walking\na:\n| D | G |\nb:\n  feel: octaves\n| A | D |\nform: a"
    alone = perform_chart(text, library)
    among = perform_chart(text + ", b x9", library)
    assert among.programs == alone.programs
    assert dict(alone.programs)[Part.BASS] == 32  # General MIDI level 1: Acoustic Bass is 33rd


@pytest.mark.parametrize("feel", ["straight eighths", "ballad", "half-time", "soul"])
def test_an_open_hat_is_closed_where_the_crash_takes_the_stick(library: Library, feel: str) -> None:
    """General MIDI level 1: keys 42, 44 and 46 are one hat, closed, by foot, and open."""
    text = f"key: D\nfeel: {feel}\na:\n| D | G |\nb:\n| A | D |\nform: a x2, b x2"
    performance = perform_chart(text, library)
    drums = performance.part_notes(Part.DRUMS)
    crashed = {note.grid_tick for note in drums if note.pitch == 49}
    closed = {note.grid_tick for note in drums if note.pitch == 44 and note.grid_tick in crashed}
    has_open = any(note.pitch == 46 for note in drums)
    assert crashed and closed == (crashed if has_open else set())
