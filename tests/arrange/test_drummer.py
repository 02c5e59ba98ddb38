"""The drummer through a song's form: what comes again, fills by place, cymbals, builds, endings.

The shares and counts are those of the project's own statement of how a drummer follows a song; all
of it is common practice, no source.  Notes are read from the performance, which every output reads.
"""

from collections import Counter
from functools import lru_cache
from itertools import pairwise

import pytest

from groove.cells.library import library_from
from groove.events import Note, Part, Performance, Role
from groove.pipeline import PerformOptions, perform_chart
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.songs import LIBRARY, METERS, play_drums, play_rhythm

TIGHT = PerformOptions(tight=True)
DRUMMED = [name for name in sorted(LIBRARY.feels) if LIBRARY.drums[LIBRARY.feels[name].drums].bars]
SOFT = "dynamics: p\n"
STEADY = ("bossa", "one drop", "two-beat")
UNLED = ("bossa", "one drop", "walking")
KICK, SNARE, CRASH, RIM = (DRUM_KEYS[name] for name in ("kick", "snare", "crash", "side_stick"))
CLOSED, OPEN, PEDAL = (DRUM_KEYS[name] for name in ("hat", "open_hat", "pedal_hat"))
RIDES = {DRUM_KEYS[name] for name in ("ride", "ride_bell", "ride_2")}
STICKS = {CLOSED, OPEN, CRASH, *RIDES}
FEET = {KICK, DRUM_KEYS["low_kick"], PEDAL}
FOUR = "D | G | Bm | A"
FORM = "intro, verse, chorus, verse, chorus, bridge, chorus, verse, chorus"
each_feel = pytest.mark.parametrize("feel", DRUMMED, scope="module")
"""Feel by feel, so that what is played once in it serves all tests."""


def song(feel: str, form: str = FORM, *, head: str = "", seed: int = 1) -> Performance:
    """Return the drums of a song of sections of eight bars, the intro of four."""
    return _song(feel, form, head, seed)


@lru_cache(maxsize=16)
def _song(feel: str, form: str, head: str, seed: int) -> Performance:
    names = dict.fromkeys(name.split()[0] for name in form.split(", "))
    bars = {name: f"| {FOUR} |" + ("" if name == "intro" else f" {FOUR} |") for name in names}
    sections = "".join(f"{name}:\n{row}\n" for name, row in bars.items())
    text = f"meter: {METERS[feel]}\nkey: D\n{head}\n{sections}form: {form}\n"
    return play_drums(text, PerformOptions(tight=True, feel=feel, seed=seed))


BarStrokes = frozenset[tuple[int, int]]


def bars_of(performance: Performance) -> list[BarStrokes]:
    """Return what the drums play in each bar: ticks from its line, and keys."""
    found: list[set[tuple[int, int]]] = [set() for _ in performance.bars]
    for note in performance.part_notes(Part.DRUMS):
        index = note.origin.bar.played_bar - 1
        found[index].add((note.grid_tick - performance.bars[index].start_tick, note.pitch))
    return [frozenset(bar) for bar in found]


def test_a_phrase_ends_otherwise_the_next_time() -> None:
    """In other strokes, not only louder ones, wherever the feel has any."""
    ends = same = 0
    for feel in DRUMMED:
        performance = song(feel, head="fills: none\n")
        first: dict[tuple[str, int], BarStrokes] = {}
        for bar, strokes in zip(performance.bars[:-1], bars_of(performance), strict=False):
            if bar.ref.bar_in_section == 4:
                key = (bar.ref.section, bar.ref.bar_in_section)
                if key in first:
                    ends += 1
                    same += first[key] == strokes
                first.setdefault(key, strokes)
    assert ends >= 5 * len(DRUMMED)
    assert same <= ends * 0.08


def test_the_ride_goes_in_eighths_where_the_hat_ran_in_sixteenths() -> None:
    performance = song("broken sixteenths")
    places: dict[str, set[int]] = {"verse": set(), "chorus": set()}
    for note in performance.part_notes(Part.DRUMS):
        if note.origin.bar.section in places and note.pitch in (CLOSED, *RIDES):
            places[note.origin.bar.section].add(note.grid_tick % 480)
    assert places == {"verse": {0, 240}, "chorus": {0}}


def test_a_ghost_waits_for_a_hand() -> None:
    """Hat and conga on the last sixteenth: nobody has a third hand for the snare there."""
    rows = {
        "kick": "9 . . . . . . . 8 . . . . . . .",
        "snare": ". . . . 9 . . . . . . . 9 . . .",
        "hat": " ".join("6" * 16),
        "high_conga": ". . . . . . . . . . . . . . . 6",
    }
    cell = {"format": 1, "name": "three hands", "summary": "", "meter": "4/4", "slots_per_beat": 4}
    library = library_from([("drums", "own/three.toml", {**cell, **rows})], LIBRARY)
    moments = 0
    for seed in range(8):
        text = (
            f"tempo: 100\nkey: D\nseed: {seed}\nvary: much\nfills: none\nfeel: sixteenths\n"
            f"verse:\ndrums: three hands\n| {FOUR} | {FOUR} |\nend:\n| D |\nform: verse x4, end\n"
        )
        performance = perform_chart(text, library, TIGHT)
        hands: Counter[int] = Counter(
            n.grid_tick for n in performance.part_notes(Part.DRUMS) if n.pitch not in FEET
        )
        assert max(hands.values()) == 2
        moments += len(hands)
    assert moments > 2000


def alike(performance: Performance) -> tuple[int, int, list[int]]:
    """Return (bars that come again, those like the first, places in the form of the others)."""
    first: dict[tuple[str, int], BarStrokes] = {}
    again = same = 0
    others = []
    for bar, strokes in zip(performance.bars, bars_of(performance), strict=True):
        key = (bar.ref.section, bar.ref.bar_in_section)
        if key not in first:
            first[key] = strokes
            continue
        again += 1
        if first[key] == strokes:
            same += 1
        elif not bar.place.is_last_chorus:
            # The last chorus is on the bell all through.
            others.append(bar.ref.bar_in_section)
    return again, same, others


@each_feel
def test_drums_that_come_again_are_no_copy_and_none_are_without_variation(feel: str) -> None:
    again = same = 0
    touched: Counter[bool] = Counter()
    for seed in range(3):
        counted, alike_count, others = alike(song(feel, seed=seed))
        again, same = again + counted, same + alike_count
        touched.update(bar % 4 in (0, 1) for bar in others)
    assert again >= 100
    assert same <= again * (0.92 if feel in STEADY else 0.80), (same, again)
    # What differs stands at the end of a phrase, or at its head after a fill or a ringing hat; a
    # jazz drummer talks everywhere.
    comments = LIBRARY.drums[LIBRARY.feels[feel].drums].comments
    assert comments or (same >= again // 2 and touched[True] >= 3 * touched[False])
    counted, alike_count, others = alike(song(feel, head="vary: none\n"))
    assert counted >= 30
    # Fills that lead elsewhere: the verse's and the chorus's last bars, and what they lead to.
    assert {bar for bar in others} <= {1, 8}


def fills(performance: Performance) -> dict[int, list[Note]]:
    """Return the drums' fills by the played bar they stand in."""
    found: dict[int, list[Note]] = {}
    for note in performance.part_notes(Part.DRUMS):
        if note.origin.role is Role.FILL:
            found.setdefault(note.origin.bar.played_bar, []).append(note)
    return found


def length_beats(performance: Performance, bar: int, notes: list[Note]) -> float:
    """Return how many pulses of a bar a fill takes."""
    played = performance.bars[bar - 1]
    first = min(note.grid_tick for note in notes)
    return (played.end_tick - first) / played.meter.pulse_ticks


@each_feel
def test_fills_are_of_four_kinds_and_lead_into_choruses(feel: str) -> None:
    led = choruses = 0
    for seed in range(3):
        performance = song(feel, seed=seed)
        found = fills(performance)
        kinds = set()
        for bar, notes in found.items():
            end = performance.bars[bar - 1].end_tick
            kinds.add(frozenset((end - note.grid_tick, note.pitch) for note in notes))
        wanted = 4 if len(LIBRARY.drums[LIBRARY.feels[feel].drums].fills) >= 6 else 2
        assert len(kinds) >= wanted, (seed, len(kinds))
        starts = [
            bar.ref.played_bar
            for bar in performance.bars
            if bar.ref.section == "chorus" and bar.ref.bar_in_section == 1
        ]
        assert len(starts) == 4
        choruses += len(starts)
        led += sum(start - 1 in found for start in starts)
        lengths = {bar: length_beats(performance, bar, notes) for bar, notes in found.items()}
        assert lengths[starts[-1] - 1] == max(lengths.values())
        others = [beats for bar, beats in lengths.items() if bar + 1 not in starts]
        into = [lengths[start - 1] for start in starts]
        # A fill may begin with a rest, so that it is heard to be a little shorter.
        assert others and min(into) > max(others) - 0.5, (seed, into, others)
    assert feel in UNLED or led * 10 >= choruses * 9


MANY_FILLS = [name for name in DRUMMED if len(LIBRARY.drums[LIBRARY.feels[name].drums].fills) >= 6]


@pytest.mark.parametrize("feel", MANY_FILLS, scope="module")
def test_a_fill_into_a_chorus_is_another_the_next_time(feel: str) -> None:
    """The first fill into a chorus comes neither in the second verse nor in the bridge again."""
    for seed in range(3):
        performance = song(feel, seed=seed)
        shapes = {}
        for bar, notes in fills(performance).items():
            ref = performance.bars[bar - 1].ref
            end = performance.bars[bar - 1].end_tick
            shape = frozenset((end - n.grid_tick, n.pitch) for n in notes)
            shapes[ref.section, ref.occurrence] = shape
        first = shapes["verse", 1]
        assert first not in (shapes["verse", 2], shapes["bridge", 1]), (feel, seed)


def test_most_feels_have_many_fills() -> None:
    assert len(MANY_FILLS) >= 17


@each_feel
def test_choruses_are_on_ride_or_open_hat_where_verses_have_the_closed_hat(feel: str) -> None:
    performance = song(feel)
    counts: dict[str, Counter[int]] = {"verse": Counter(), "chorus": Counter()}
    for note in performance.part_notes(Part.DRUMS):
        if note.origin.bar.section in counts:
            counts[note.origin.bar.section][note.pitch] += 1
    verse, chorus = counts["verse"], counts["chorus"]
    if verse[CLOSED] > 30:
        open_ones = chorus[OPEN] + sum(chorus[key] for key in RIDES)
        assert open_ones > 50 and open_ones > 4 * chorus[CLOSED]
    else:
        assert verse[CLOSED] == chorus[CLOSED] == 0
    assert (verse[CLOSED] > 30) is (feel not in WITHOUT_HAT)


WITHOUT_HAT = ("two-beat", "tumbao", "walking", "cha-cha", "jazz waltz", "second line")


@each_feel
def test_every_phrase_ends_on_something(feel: str) -> None:
    """Its last bar is none of the plain ones, which come up most; louder counts as well."""
    phrases = 0
    for seed in range(3):
        performance = song(feel, seed=seed)
        bars: list[set[tuple[int, int, int | None]]] = [set() for _ in performance.bars]
        for note in performance.part_notes(Part.DRUMS):
            bar = performance.bars[note.origin.bar.played_bar - 1]
            where = note.grid_tick - bar.start_tick
            bars[bar.ref.played_bar - 1].add((where, note.pitch, note.origin.level))
        for bar in performance.bars[:-1]:
            number, last = bar.ref.bar_in_section, bar.ref.played_bar - 1
            if number % 4 == 0:
                plain = Counter(
                    frozenset(bars[other.ref.played_bar - 1])
                    for other in performance.bars[:-1]
                    if (other.ref.section, other.ref.occurrence)
                    == (bar.ref.section, bar.ref.occurrence)
                    and other.ref.bar_in_section % 4 in (2, 3)
                )
                usual = {strokes for strokes, count in plain.items() if count > 1}
                assert frozenset(bars[last]) not in usual, bar.ref
                phrases += 1
    assert phrases == 3 * 16


def test_bass_and_drums_fill_in_turn_in_every_feel() -> None:
    """Both of them, which what the drums alone play here takes for granted."""
    compared = 0
    for feel in DRUMMED:
        bars = f"| {FOUR} | {FOUR} |"
        text = f"meter: {METERS[feel]}\nkey: D\nfills: many\nverse:\n{bars}\nchorus:\n{bars}\n"
        performance = play_rhythm(text, PerformOptions(tight=True, feel=feel))
        line = performance.part_notes(Part.BASS)
        bass = {note.origin.bar.played_bar for note in line if note.origin.role is Role.FILL}
        assert not bass & fills(performance).keys(), feel
        compared += len(bass) + len(fills(performance))
    assert compared >= 3 * len(DRUMMED)


@each_feel
def test_two_hands_and_a_closed_hat_through_a_song(feel: str) -> None:
    """One stick on cymbals, two hands in all; an open hat is closed within two beats."""
    moments = opened = 0
    form = "intro, verse, pre-chorus, chorus, breakdown, chorus"
    played = [song(feel), *(song(feel, form, head=head) for head in ("vary: much\n", SOFT))]
    for performance in played:
        notes = performance.part_notes(Part.DRUMS)
        by_tick: dict[int, list[int]] = {}
        for note in notes:
            by_tick.setdefault(note.grid_tick, []).append(note.pitch)
        for tick, keys in by_tick.items():
            assert len(keys) == len(set(keys)), (tick, keys)
            assert len([key for key in keys if key not in FEET]) <= 2, (tick, keys)
            assert len(STICKS.intersection(keys)) <= 1, (tick, keys)
            moments += 1
        hats = sorted((n.grid_tick, n.pitch) for n in notes if n.pitch in (OPEN, CLOSED, PEDAL))
        for (tick, key), (after, then) in pairwise(hats):
            if key == OPEN:
                assert then != OPEN and after - tick <= 2 * performance.bars[0].meter.pulse_ticks
                opened += 1
        assert not hats or hats[-1][1] != OPEN
    assert moments > 300


def chart(feel: str, body: str) -> Performance:
    """Return a short song."""
    return play_rhythm(f"tempo: 100\nkey: D\nfeel: {feel}\n{body}\n")


def in_bar(performance: Performance, number: int, *keys: int) -> list[Note]:
    """Return the strokes of some drums in a bar, by its number in the song."""
    bar = performance.bars[number - 1]
    return [
        note
        for note in performance.part_notes(Part.DRUMS)
        if bar.start_tick <= note.grid_tick < bar.end_tick and note.pitch in keys
    ]


@pytest.mark.parametrize("feel", ["straight eighths", "sixteenths", "soul", "shuffle", "ballad"])
def test_a_build_goes_from_quarters_to_sixteenths(feel: str) -> None:
    """Four bars of one chord: the snare's strokes double, and the last is the loudest."""
    body = "verse:\nfills: none\n| D | (build) D | D | D | D |\nchorus:\n| G | G |"
    performance = chart(feel, body)
    counts = [len(in_bar(performance, number, SNARE)) for number in (2, 3, 4, 5)]
    assert counts[0] <= counts[1] < counts[2] < counts[3]
    assert counts[3] >= (9 if feel == "shuffle" else 12)
    rising = [
        in_bar(performance, number, SNARE)[index].velocity for number, index in ((2, 0), (5, -1))
    ]
    assert rising[0] + 20 < rising[1]
    for number in (2, 3, 4, 5):
        kicks = {note.grid_tick % 3840 for note in in_bar(performance, number, KICK)}
        assert {0, 960, 1920, 2880} <= kicks


def test_a_pre_chorus_builds_in_its_last_bars_without_a_word() -> None:
    body = f"verse:\n| {FOUR} |\npre-chorus:\n| {FOUR} |\nchorus:\n| {FOUR} |"
    performance = chart("straight eighths", "fills: none\n" + body)
    counts = [len(in_bar(performance, number, SNARE)) for number in (5, 6, 7, 8)]
    assert counts[1] == counts[0] <= 3 < counts[2] < counts[3]


@pytest.mark.parametrize(
    ("feel", "out"),
    [
        *[("half-time", out) for out in ("drums: tacet", "drums: none", "feel: long notes")],
        *[(feel, "drums: tacet") for feel in ("straight eighths", "bossa", "tumbao", "shuffle")],
    ],
)
def test_drums_come_back_with_a_pick_up(feel: str, out: str) -> None:
    body = f"intro:\n{out}\n| {FOUR} |\nverse:\n| {FOUR} |\nend:\n| D |"
    performance = chart(feel, body)
    silent = [bar for bar in (1, 2, 3) if fills(performance).get(bar)]
    assert silent == []
    assert list(fills(performance))[:1] == [4]
    plain = [n for n in performance.part_notes(Part.DRUMS) if n.grid_tick < 4 * 3840]
    assert {note.origin.role for note in plain} == {Role.FILL}
    for seed in (1, 2, 3, 4):
        line = chart(feel, f"seed: {seed}\n{body}").part_notes(Part.BASS)
        assert not [n for n in line if n.grid_tick < 4 * 3840 and n.origin.role is Role.FILL]
    spared = chart(feel, f"fills: none\n{body}")
    assert not fills(spared)


def test_drums_come_back_from_a_breakdown_and_from_stop_time() -> None:
    body = f"verse:\n| {FOUR} |\nbreakdown:\n| {FOUR} |\nverse 2:\n| {FOUR} |"
    assert 8 in fills(chart("sixteenths", body))
    blues = "solo:\n| " + " | ".join(["A7"] * 12) + " |\nend:\n| A7 |\nform: solo x3, end"
    performance = chart("shuffle", blues)
    # Stop-time is bars 25 to 27 of the third chorus.
    assert len(in_bar(performance, 25, KICK, SNARE)) == 2
    assert 27 in fills(performance)


ENDINGS = {"straight eighths": True, "ballad": True, "sixteenths": False, "bossa": False}


@pytest.mark.parametrize("feel", ENDINGS)
def test_the_last_bar_is_hit_or_rolled_as_the_feel_ends(feel: str) -> None:
    performance = chart(feel, "verse:\n| D | G | A | D |")
    snares = in_bar(performance, 4, SNARE)
    assert (len(snares) >= 8) is ENDINGS[feel]
    assert {note.grid_tick for note in in_bar(performance, 4, KICK)} >= {3 * 3840}
    told = chart(feel, "verse:\n| D | G | A | (hit) D |")
    assert {note.grid_tick for note in told.part_notes(Part.DRUMS) if note.grid_tick >= 11520} == {
        11520
    }


def test_the_time_is_lighter_under_a_singer() -> None:
    """The hat of a verse is softer than that of the same bars elsewhere, the kick is not."""
    body = f"verse:\n| {FOUR} |\ninterlude:\n| {FOUR} |\nend:\n| D |"
    for feel in ("sixteenths", "straight eighths", "soul", "octaves"):
        performance = chart(feel, "fills: none\n" + body)
        hats, kicks = (
            [max(note.velocity for note in in_bar(performance, number, key)) for number in (2, 6)]
            for key in (CLOSED, KICK)
        )
        assert hats[0] < hats[1] and kicks[0] == kicks[1], feel


def test_the_felt_kick_is_in_two_where_the_walk_is() -> None:
    rows = "Dm7 | G7 | Cmaj7 | A7"
    performance = chart(
        "walking", f"fills: none\nsong:\n| {rows} |\nend:\n| Dm7 |\nform: song x3, end"
    )
    kicks = [len(in_bar(performance, number, KICK)) for number in (1, 3, 6, 10)]
    assert kicks[:2] == [2, 2] and min(kicks[2:]) >= 4


@each_feel
def test_the_first_time_is_what_no_variation_plays(feel: str) -> None:
    some, none = (song(feel, head=head) for head in ("", "vary: none\n"))
    firsts = [
        (a, b)
        for bar, a, b in zip(some.bars, bars_of(some), bars_of(none), strict=True)
        if bar.ref.occurrence == 1 and bar.ref.bar_in_section < 8
    ]
    assert [a for a, _ in firsts] == [b for _, b in firsts]
    assert len(firsts) >= 25


def test_a_jazz_drummer_comments_now_and_then_and_otherwise_each_time() -> None:
    form = "song x5"
    comments = bars = 0
    told: list[frozenset[tuple[int, int]]] = []
    for seed in range(4):
        performance = song("walking", form, seed=seed)
        for bar in performance.bars[:-1]:
            if bar.ref.bar_in_section % 4:
                own = in_bar(performance, bar.ref.played_bar, SNARE)
                comments += bool(own)
                bars += 1
                told.append(frozenset((n.grid_tick - bar.start_tick, n.pitch) for n in own))
                assert max((note.velocity for note in own), default=0) < 60
    assert bars == 4 * 30
    assert 0.15 <= comments / bars <= 0.55
    assert len(set(told)) >= 6


def test_a_players_own_drums_are_played_as_written() -> None:
    own = "drums heron:\n  kick: 9 . . . 8 . . . |\n  closed hat: 5 5 5 5 5 5 5 5 |\n"
    body = f"{own}verse:\ndrums: heron\n| {FOUR} |\nchorus:\ndrums: heron\n| {FOUR} |\n"
    performance = chart("straight eighths", body + "form: verse x2, chorus x2")
    bars = bars_of(performance)
    plain = Counter(bars[:-1])
    # Only the head of a section has its crash.
    assert plain.most_common(1)[0][1] == 12
    assert len(plain) == 2
