"""Hypothesis builders of charts as text: chord symbols, bars, songs, and texts that nearly are.

What a chart has many of is drawn by plain functions from strategies that are made once: making and
checking a strategy takes longer than drawing from it.
"""

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TypeVar

from hypothesis import strategies as st

from tests.strategies_text import any_text

One = TypeVar("One")

NOTES = [letter + sign for letter in "CDEFGAB" for sign in ("", "#", "b")]
QUALITIES = ["", "m", "7", "maj7", "m7", "sus4", "dim", "°7", "+", "ø7", "m7b5", "6", "6/9", "m6"]
QUALITIES += ["9", "13", "m11", "mM7", "7alt", "5", "2", "△7", "7sus4", "maj9", "b5", "#5", "♭9"]
MODIFIERS = ["b9", "#9", "#11", "b13", "(b9)", "(#9)", "(9)", "(b9,#11)", "(b9, b13)", "add9"]
MODIFIERS += ["(add11)", "no3", "(no5)", "/13", "sus4", "b5", "#5", "(maj7)"]
METERS = ["2/4", "3/4", "4/4", "5/4", "2/2", "3/8", "5/8", "6/8", "7/8", "9/8", "12/8"]
BEATS = [2, 3, 4, 5, 2, 3, 5, 2, 7, 3, 4]
"""What a / counts in each of the meters: a dotted quarter in 6/8, 9/8 and 12/8."""

FEELS = ["sixteenths", "ballad", "one drop", "long notes"]
NAMES = ["intro", "verse", "Chorus", "bridge 2", "x", "box 7", "last line", "A", "refrain (soft)"]
KEYS = ["C", "D major", "F# minor", "Bb", "D dorian", "G# major", "Cb", "A# minor"]
NUMBERS = ["1", "2-", "3-", "4", "5", "57", "6-", "5/7", "b7", "#4°", "17/3", "4maj7", "16/9"]
NUMBERS += ["I", "ii7", "V7/V", "V6/5", "♭VI", "vii°7", "I6/4", "IV/5", "V7/V/V"]

chord_symbols = st.builds(
    lambda root, quality, modifier, bass: root + quality + modifier + bass,
    st.sampled_from(NOTES),
    st.sampled_from(QUALITIES),
    st.just("") | st.sampled_from(MODIFIERS),
    st.just("") | st.sampled_from(NOTES).map("/".__add__),
)
"""Symbols that look like chords; most of them are."""

known_symbols = st.builds(
    lambda root, quality, bass: root + quality + bass,
    st.sampled_from(NOTES),
    st.sampled_from(QUALITIES),
    st.just("") | st.sampled_from(NOTES).map("/".__add__),
)
"""Symbols that every chart may have."""


@cache
def _one_of(kinds: tuple[One, ...]) -> st.SearchStrategy[One]:
    return st.sampled_from(kinds)


def one_of(draw: st.DrawFn, kinds: Sequence[One]) -> One:
    """Draw one of a row."""
    drawn: One = draw(_one_of(tuple(kinds)))
    return drawn


@cache
def or_held(symbols: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """Return symbols, and the sign that holds one."""
    return symbols | st.just("/")


WORDS = ["(hits 1) ", "(kicks 1+) ", "(fill) ", "(No  fill) ", "(p) ", "(cresc.) ", "(dim) "]
WORDS += ["(thin) ", "(build) (ff) ", "(feel one drop) "]


BAR_WORDS = ["", "", "", "(hold) ", "(stop) ", *WORDS]


def bars(draw: st.DrawFn, *, beats: int, first: bool, symbols: st.SearchStrategy[str]) -> str:
    """Draw what stands between two bar lines, in a meter of so many beats."""
    kinds = ["one", "one", "share", "beats", "silent"] + ([] if first else ["again", "held"])
    kind = one_of(draw, kinds)
    word = one_of(draw, BAR_WORDS)
    if kind == "again":
        return word + "%"
    if kind == "silent":
        return word + one_of(draw, ["N.C.", "n.c.", "NC"])
    push = one_of(draw, ["", "", "<", "8<"])
    if kind == "one":
        return word + push + draw(symbols)
    if kind == "share":
        return word + push + " ".join(draw(symbols) for _ in range(beats))
    tokens = [draw(or_held(symbols)) for _ in range(beats)]
    if kind == "beats" or first:
        tokens[0] = push + draw(symbols)
    if beats > 1 and "/" not in tokens:
        tokens[-1] = "/"
    return word + " ".join(tokens)


SLOTS = ["---", "---", "x--", "10-", "11=", "12-"]
"""Three columns of tab; from the tenth to the twelfth fret there is room to transpose."""

ROW_TOKENS = ["R", "5", "b3", ">-1", "x", ".", "@E2", "s8"]


def tab_rows(draw: st.DrawFn, sizes: list[int]) -> list[str]:
    """Draw four strings under bars of so many beats each; some bars are left empty."""
    strings: list[list[str]] = [[], [], [], []]
    for beats in sizes:
        per_beat = one_of(draw, [0, 1, 2])
        for string in strings:
            slots = [one_of(draw, SLOTS) for _ in range(beats * per_beat)]
            string.append("-" + "".join(slots) if slots else " ")
    # A row is told from chords by its dashes: under empty bars alone there stands none.
    if all(bar == " " for bar in strings[0]):
        return []
    return [f"{name} |{'|'.join(bars)}|" for name, bars in zip("GDAE", strings, strict=True)]


def token_rows(draw: st.DrawFn, sizes: list[int]) -> list[str]:
    """Draw a row of tokens under bars of so many beats each."""
    found = []
    for beats in sizes:
        # In 2/2 slots are counted to the quarter: twice the beats.
        count = beats * one_of(draw, [0, 2, 4])
        words = [one_of(draw, ROW_TOKENS) for _ in range(count)]
        held = ["-" if words[i - 1] != "." and i % 3 == 1 else words[i] for i in range(count)]
        found.append(" ".join(held))
    return [f"Bass | {' | '.join(found)} |"]


def rows_under(draw: st.DrawFn, sizes: list[int]) -> list[str]:
    """Draw what may stand under a line of bars of so many beats each."""
    kind = one_of(draw, ["none", "tab", "tokens"])
    if kind == "none":
        return []
    return tab_rows(draw, sizes) if kind == "tab" else token_rows(draw, sizes)


CHANGES = [None] * 7 + list(range(len(METERS)))
SHAPES = ["plain", "double", "repeat", "times", "endings", "three"]
ONE_TO_THREE, TWO_TO_FIVE = st.integers(1, 3), st.integers(2, 5)
EITHER = st.booleans()


def bar_rows(
    draw: st.DrawFn, *, meter: int, symbols: st.SearchStrategy[str], own_lines: bool = False
) -> str:
    """Draw the bars of a section: repeats, endings, double bars and changes of meter.

    With ``own_lines`` rows of tab or tokens stand under some of them.
    """
    beats = BEATS[meter]
    written: list[str] = []
    sizes: list[int] = []

    def some(count: int) -> str:
        nonlocal beats
        found: list[str] = []
        for _ in range(count):
            change = one_of(draw, CHANGES)
            beats = beats if change is None else BEATS[change]
            stated = "" if change is None else f"({METERS[change]}) "
            bar = bars(draw, beats=beats, first=not written and not found, symbols=symbols)
            found.append(stated + bar)
            sizes.append(beats)
        written.extend(found)
        return " | ".join(found)

    pieces = []
    for _ in range(draw(ONE_TO_THREE)):
        sizes.clear()
        shape = one_of(draw, SHAPES)
        size = draw(ONE_TO_THREE)
        if shape == "plain":
            pieces.append(f"| {some(size)} |")
        elif shape == "double":
            pieces.append(f"| {some(size)} ||")
        elif shape == "repeat":
            pieces.append(f"|: {some(size)} :|")
        elif shape == "times":
            pieces.append(f"|: {some(size)} :| x{draw(TWO_TO_FIVE)}")
        elif shape == "endings":
            pieces.append(f"|: {some(size)} |1. {some(1)} :|2. {some(size)} ||")
        else:
            pieces.append(f"|: {some(1)} |1,3. {some(size)} :|2. {some(1)} ||")
        rows = rows_under(draw, list(sizes)) if own_lines else []
        pieces[-1] = "\n  ".join([pieces[-1], *rows])
    if own_lines or draw(EITHER):
        return "\n  ".join(pieces)
    # On one line two bar lines in a row would be a bar with nothing in it.
    return " ".join([pieces[0], *(piece.removeprefix("| ") for piece in pieces[1:])])


@cache
def setting_texts(*, song: bool, farthest: int) -> dict[str, st.SearchStrategy[str]]:
    """Return what each setting may be; a key and a pickup are left to the caller."""
    steady = st.integers(60, 130).map(str)
    moving = st.tuples(steady, steady).map(lambda pair: f"{pair[0]} to {pair[1]}.5")
    texts: dict[str, st.SearchStrategy[str]] = {
        # Every section would begin a moving tempo of the song anew: it is refused there.
        "tempo": steady if song else steady | moving,
        "feel": st.sampled_from(FEELS),
        "bass": st.sampled_from([*FEELS, "out"]),
        "drums": st.just("out"),
        "fills": st.sampled_from(["none", "few", "MANY"]),
        "swing": st.sampled_from(["58% eighths", "66.67% sixteenths", "straight"]),
        "loudness": st.sampled_from(["pp", "mf", "FF", "p to f"]),
        "vary": st.sampled_from(["none", "Some", "much"]),
        "transpose": st.integers(-farthest, farthest).map(str),
        "seed": st.integers(0, 2**31 - 1).map(str),
    }
    if song:
        texts["bass tone"] = st.sampled_from(["finger", "Pick"])
        texts["title"] = st.sampled_from(
            ["Lantern Row", "Étude #3: été", "7", "x2", "a : b", "Take # 2", "# 9 #"]
        )
    return texts


@cache
def some_of(kinds: tuple[str, ...], least: int, most: int) -> st.SearchStrategy[list[str]]:
    """Return some of a row, each at most once."""
    return st.lists(st.sampled_from(kinds), min_size=least, max_size=most, unique=True)


def settings(draw: st.DrawFn, *, song: bool, farthest: int) -> list[str]:
    """Draw lines of settings, a name at most once; ``farthest`` is how far they transpose."""
    texts = setting_texts(song=song, farthest=farthest)
    names = draw(some_of(tuple(sorted(texts)), 0, 4))
    return [f"{name}: {draw(texts[name])}" for name in names]


TOKENS = ["R", "r", "2", "b3", "#4", "5,", "13", "x", "s5", ">R", ">-1", ">*", "@E1", "@bb2"]
TOKENS += ["-", "-", ".", ".", "_", "…", "—"]


@cache
def some_words(tokens: tuple[str, ...], least: int, most: int) -> st.SearchStrategy[list[str]]:
    """Return a row of words, each as often as it comes."""
    return st.lists(st.sampled_from(tokens), min_size=least, max_size=most)


def riff_rows(draw: st.DrawFn, tokens: Sequence[str]) -> str:
    """Draw some bars of a row; a hold never follows a rest."""
    words = draw(some_words(tuple(tokens), 1, 9))
    kept = [words[0]]
    for word in words[1:]:
        lost = word in "-—" and kept[-1] in "._…"
        kept.append("5" if lost else word)
    bars = " ".join(kept)
    shape = one_of(draw, ["{0}", "{0} |", "{0} | {0}", "{0} |\n  {0}"])
    return shape.format(bars)


DRUMS = st.lists(st.sampled_from(["kick", "closed hat", "Open Hi-Hat"]), min_size=1)


@st.composite
def riffs(draw: st.DrawFn) -> str:
    """Draw a block that no section plays: in any meter it is read, and written again."""
    name = one_of(draw, ["heron", "Low road", "one"])
    part = one_of(draw, ["riff", "drums", "keys", "RIFF"])
    if part == "drums":
        drums = draw(DRUMS)
        rows = [f"{drum}: {riff_rows(draw, ['9', '5', '.', '…'])}" for drum in drums]
    elif part == "keys":
        rows = [riff_rows(draw, ["7", "-", ".", "3"])]
    else:
        conditions = some_of(("chorus", "Phrase end", "second time"), 0, 2)
        rows = [riff_rows(draw, TOKENS)]
        rows += [f"{when}: {riff_rows(draw, TOKENS)}" for when in draw(conditions)]
    return "\n".join([f"{part} {name}:", *(f"  {row}" for row in rows)])


BLOCKS = st.lists(riffs(), max_size=2, unique_by=lambda block: block.split("\n")[0].casefold())
"""Blocks, no two of them of one name."""

# Shorter than a bar of any of the meters.
PICKUPS = ["", "", "pickup: 0", "pickup: 1 eighth", "Pickup: 3 Sixteenths"]
CHORD_PICKUPS = ["pickup: 1 eighth | {} |", "Pickup:  3 sixteenths  | {} / / |"]
FARTHEST_WITH_TAB = 5

ENDINGS = {
    "coda page": "| (segno) {0} | (to coda) {0} | (D.S. al coda) {0} | (coda) {0} |",
    "fine page": "| (segno) {0} | (Fine) {0} | (d.s. al fine) {0} |",
    "sign page": "| (segno) {0} | {0} | (D.S.) {0} |",
    "tag page": "| {0} | (tag x3) {0} |",
}
"""Sections that end a song without a form, with a jump or a tag."""

PLAYED_AGAIN = {"coda page": 2, "fine page": 2, "sign page": 3, "tag page": 2}
"""How many bars more than are written these play, counted by hand."""


def pickups(draw: st.DrawFn, symbols: st.SearchStrategy[str], *, own_lines: bool) -> list[str]:
    """Draw a pickup or none; some have a chord, and a row of tokens under it."""
    if draw(EITHER):
        return [line for line in [one_of(draw, PICKUPS)] if line]
    rows = ["", "Bass | R |", "bass | R >-1 |"] if own_lines else [""]
    text = one_of(draw, CHORD_PICKUPS).format(draw(symbols))
    # Three slots where there are three beats.
    under = one_of(draw, rows) if "eighth " in text else ""
    return [text, under] if under else [text]


A_METER = st.integers(0, len(METERS) - 1)
ANOTHER_METER = st.none() | A_METER


@st.composite
def charts(draw: st.DrawFn, *, numbers: bool = False, own_lines: bool = False) -> str:
    """Draw a chart that can be read, whole, with everything the grammar has.

    With ``own_lines`` there are rows of tab and tokens, and no transposition leaves the neck.
    """
    symbols = _one_of(tuple(NUMBERS)) if numbers else known_symbols
    farthest = FARTHEST_WITH_TAB if own_lines else 24
    meter = draw(A_METER)
    lines = [*settings(draw, song=True, farthest=farthest), f"meter: {METERS[meter]}"]
    lines += pickups(draw, symbols, own_lines=own_lines)
    blocks = draw(BLOCKS)
    if numbers or draw(EITHER):
        lines.append(f"key: {one_of(draw, KEYS)}")
    if numbers:
        lines.append("chords: numbers")
    lines += blocks
    names = draw(some_of(tuple(NAMES), 1, 3))
    for name in names:
        own = draw(ANOTHER_METER)
        lines += ["", f"{name}:", *settings(draw, song=False, farthest=farthest)]
        lines += [] if own is None else [f"  meter: {METERS[own]}"]
        own_meter = meter if own is None else own
        rows = bar_rows(draw, meter=own_meter, symbols=symbols, own_lines=own_lines)
        lines += ["  cue: drums only: now"] * one_of(draw, [0, 0, 1])
        lines += [f"  {rows}   # a remark"]
    if draw(EITHER):
        change = "bar 1: | N.C. |" if draw(EITHER) else "bar 1: | (fill) N.C. |"
        lines += ["other time:", f"  as: {names[0]}", "  cue: again", f"  {change}"]
        names.append("other time")
    end = one_of(draw, [*ENDINGS, "form", "form", "form", "none"])
    if end in ENDINGS:
        lines += [f"{end}:", "  " + ENDINGS[end].format(draw(symbols))]
    elif end == "form":
        steps = draw(some_words(tuple(names), 1, 4))
        times = [one_of(draw, ["", " x2", " x3"]) for _ in steps]
        lines.append("form: " + ", ".join(map(str.__add__, steps, times)))
    return "\n".join(lines) + "\n"


FRAGMENTS = [
    "|",
    "||",
    "|:",
    ":|",
    "|1.",
    "|2.",
    "|1,2.",
    "x3",
    "%",
    "/",
    "N.C.",
    "(hold)",
    "(3/4)",
]
FRAGMENTS += ["(", ")", "<", "<<", "# ", "#", ":", ",", "verse:", "\n", "\n\n", "  ", "\t", "\r\n"]
FRAGMENTS += [
    "tempo: 84",
    "meter: 6/8",
    "key: D",
    "chords: numbers",
    "form: verse",
    "title:",
    "4/4",
]
FRAGMENTS += ["16<", "8.<G", "(segno)", "(D.S.)", "(tag x2)", "(p)", "cue: a", "as: verse"]
FRAGMENTS += ["bar 1: | D |", "G |-2-|", "bass | R 5 |", "dynamics: p to f", "|1.2."]
FRAGMENTS += ["riff a:", "drums b:", "R - 5 .", "levels: 9", "kick: 9 .", "bass: a", "…", "@E1"]
FRAGMENTS += [
    "D",
    "A/C#",
    "Bm7",
    "F#m7b5",
    "C6/9",
    "V7/V",
    "57",
    "♭",
    "\u2028",
    "\x00",
    "é",
    "x",
    "3",
]

grammar_texts = st.lists(st.sampled_from(FRAGMENTS), max_size=40).map(
    lambda parts: "".join(part + " " * (len(part) % 2) for part in parts)
)
"""Texts built from the pieces of charts, in any order."""

sectioned_texts = grammar_texts.map("verse:\n| D | ".__add__)
"""The same, where bars may stand."""


@cache
def example_charts() -> list[str]:
    """Return the texts of the example charts."""
    folder = Path(__file__).parents[1] / "shared/charts"
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.txt"))]


STROKES, STRUCK_OUT = st.integers(1, 4), st.integers(0, 12)
TYPED_OVER = st.sampled_from([*FRAGMENTS, "", None]) | any_text(3)
"""None stands for what was there, twice."""


@st.composite
def mutated_charts(draw: st.DrawFn) -> str:
    """Draw an example chart in which a few places were struck out, doubled or typed over."""
    text = one_of(draw, example_charts())
    for _ in range(draw(STROKES)):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(STRUCK_OUT))
        new = draw(TYPED_OVER)
        new = text[at:end] * 2 if new is None else new
        text = text[:at] + new + text[end:]
    return text
