"""Hypothesis builders of charts as text: chord symbols, bars, songs, and texts that nearly are."""

from pathlib import Path

from hypothesis import strategies as st

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


WORDS = ["(hits 1) ", "(kicks 1+) ", "(fill) ", "(No  fill) ", "(p) ", "(cresc.) ", "(dim) "]
WORDS += ["(thin) ", "(build) (ff) ", "(feel one drop) "]


@st.composite
def bars(draw: st.DrawFn, *, beats: int, first: bool, symbols: st.SearchStrategy[str]) -> str:
    """Draw what stands between two bar lines, in a meter of so many beats."""
    kinds = ["one", "one", "share", "beats", "silent"] + ([] if first else ["again", "held"])
    kind = draw(st.sampled_from(kinds))
    word = draw(st.sampled_from(["", "", "", "(hold) ", "(stop) ", *WORDS]))
    if kind == "again":
        return word + "%"
    if kind == "silent":
        return word + draw(st.sampled_from(["N.C.", "n.c.", "NC"]))
    push = draw(st.sampled_from(["", "", "<", "8<"]))
    if kind == "one":
        return word + push + draw(symbols)
    if kind == "share":
        return word + push + " ".join(draw(symbols) for _ in range(beats))
    tokens = [draw(symbols | st.just("/")) for _ in range(beats)]
    if kind == "beats" or first:
        tokens[0] = push + draw(symbols)
    if beats > 1 and "/" not in tokens:
        tokens[-1] = "/"
    return word + " ".join(tokens)


@st.composite
def bar_rows(draw: st.DrawFn, *, meter: int, symbols: st.SearchStrategy[str]) -> str:
    """Draw the bars of a section: repeats, endings, double bars and changes of meter."""
    beats = BEATS[meter]
    written: list[str] = []

    def some(count: int) -> str:
        nonlocal beats
        found: list[str] = []
        for _ in range(count):
            change = draw(st.sampled_from([None] * 7 + list(range(len(METERS)))))
            beats = beats if change is None else BEATS[change]
            stated = "" if change is None else f"({METERS[change]}) "
            bar = draw(bars(beats=beats, first=not written and not found, symbols=symbols))
            found.append(stated + bar)
        written.extend(found)
        return " | ".join(found)

    pieces = []
    for _ in range(draw(st.integers(1, 3))):
        shape = draw(st.sampled_from(["plain", "double", "repeat", "times", "endings", "three"]))
        size = draw(st.integers(1, 3))
        if shape == "plain":
            pieces.append(f"| {some(size)} |")
        elif shape == "double":
            pieces.append(f"| {some(size)} ||")
        elif shape == "repeat":
            pieces.append(f"|: {some(size)} :|")
        elif shape == "times":
            pieces.append(f"|: {some(size)} :| x{draw(st.integers(2, 5))}")
        elif shape == "endings":
            pieces.append(f"|: {some(size)} |1. {some(1)} :|2. {some(size)} ||")
        else:
            pieces.append(f"|: {some(1)} |1,3. {some(size)} :|2. {some(1)} ||")
    if draw(st.booleans()):
        return "\n  ".join(pieces)
    # On one line two bar lines in a row would be a bar with nothing in it.
    return " ".join([pieces[0], *(piece.removeprefix("| ") for piece in pieces[1:])])


def setting_texts(*, song: bool) -> dict[str, st.SearchStrategy[str]]:
    """Return what each setting may be; a key is left to the caller."""
    tempo = st.integers(60, 130).map(str) | st.tuples(
        st.integers(60, 130), st.integers(60, 130)
    ).map(lambda pair: f"{pair[0]} to {pair[1]}.5")
    texts: dict[str, st.SearchStrategy[str]] = {
        "tempo": tempo,
        "feel": st.sampled_from(FEELS),
        "bass": st.sampled_from([*FEELS, "out"]),
        "drums": st.just("out"),
        "fills": st.sampled_from(["none", "few", "MANY"]),
        "swing": st.sampled_from(["58% eighths", "66.67% sixteenths", "straight"]),
        "loudness": st.sampled_from(["pp", "mf", "FF", "p to f"]),
        "vary": st.sampled_from(["none", "Some", "much"]),
        "transpose": st.integers(-24, 24).map(str),
        "seed": st.integers(0, 2**31 - 1).map(str),
    }
    if song:
        # Shorter than a bar of any of the meters.
        texts["pickup"] = st.sampled_from(["0", "1 eighth", "3 Sixteenths"])
        texts["bass tone"] = st.sampled_from(["finger", "Pick"])
        texts["title"] = st.sampled_from(["Lantern Row", "Étude #3: été", "7", "x2", "a : b"])
    return texts


@st.composite
def settings(draw: st.DrawFn, *, song: bool) -> list[str]:
    """Draw lines of settings, a name at most once."""
    texts = setting_texts(song=song)
    names = draw(st.lists(st.sampled_from(sorted(texts)), unique=True, max_size=4))
    return [f"{name}: {draw(texts[name])}" for name in names]


TOKENS = ["R", "r", "2", "b3", "#4", "5,", "13", "x", "s5", ">R", ">-1", ">*", "@E1", "@bb2"]
TOKENS += ["-", "-", ".", ".", "_", "…", "—"]


@st.composite
def riff_rows(draw: st.DrawFn, tokens: list[str]) -> str:
    """Draw some bars of a row; a hold never follows a rest."""
    words = draw(st.lists(st.sampled_from(tokens), min_size=1, max_size=9))
    kept = [words[0]]
    for word in words[1:]:
        lost = word in "-—" and kept[-1] in "._…"
        kept.append("5" if lost else word)
    bars = " ".join(kept)
    return draw(st.sampled_from([bars, f"{bars} |", f"{bars} | {bars}", f"{bars} |\n  {bars}"]))


@st.composite
def riffs(draw: st.DrawFn) -> str:
    """Draw a block that no section plays: in any meter it is read, and written again."""
    name = draw(st.sampled_from(["heron", "Low road", "one"]))
    part = draw(st.sampled_from(["riff", "drums", "keys", "RIFF"]))
    if part == "drums":
        drums = draw(st.lists(st.sampled_from(["kick", "closed hat", "Open Hi-Hat"]), min_size=1))
        rows = [f"{drum}: {draw(riff_rows(['9', '5', '.', '…']))}" for drum in drums]
    elif part == "keys":
        rows = [draw(riff_rows(["7", "-", ".", "3"]))]
    else:
        conditions = st.lists(st.sampled_from(["chorus", "Phrase end", "second time"]), max_size=2)
        rows = [draw(riff_rows(TOKENS))]
        rows += [f"{when}: {draw(riff_rows(TOKENS))}" for when in draw(conditions)]
    return "\n".join([f"{part} {name}:", *(f"  {row}" for row in rows)])


@st.composite
def charts(draw: st.DrawFn, *, numbers: bool = False) -> str:
    """Draw a chart that can be read, whole, with everything the grammar has."""
    symbols = st.sampled_from(NUMBERS) if numbers else known_symbols
    meter = draw(st.integers(0, len(METERS) - 1))
    lines = [*draw(settings(song=True)), f"meter: {METERS[meter]}"]
    blocks = draw(
        st.lists(riffs(), max_size=2, unique_by=lambda block: block.split("\n")[0].casefold())
    )
    if numbers or draw(st.booleans()):
        lines.append(f"key: {draw(st.sampled_from(KEYS))}")
    if numbers:
        lines.append("chords: numbers")
    lines += blocks
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=3, unique=True))
    for name in names:
        own = draw(st.none() | st.integers(0, len(METERS) - 1))
        lines += ["", f"{name}:", *draw(settings(song=False))]
        lines += [] if own is None else [f"  meter: {METERS[own]}"]
        rows = draw(bar_rows(meter=meter if own is None else own, symbols=symbols))
        lines += draw(st.sampled_from([[], [], ["  cue: drums only: now"]]))
        lines += [f"  {rows}   # a remark"]
    if draw(st.booleans()):
        change = "bar 1: | N.C. |" if draw(st.booleans()) else "bar 1: | (fill) N.C. |"
        lines += ["other time:", f"  as: {names[0]}", "  cue: again", f"  {change}"]
        names.append("other time")
    if draw(st.booleans()):
        steps = draw(st.lists(st.sampled_from(names), min_size=1, max_size=4))
        times = [draw(st.sampled_from(["", " x2", " x3"])) for _ in steps]
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


def example_charts() -> list[str]:
    """Return the texts of the example charts."""
    folder = Path(__file__).parents[1] / "shared/charts"
    return [path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.txt"))]


@st.composite
def mutated_charts(draw: st.DrawFn) -> str:
    """Draw an example chart in which a few places were struck out, doubled or typed over."""
    text = draw(st.sampled_from(example_charts()))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.integers(0, 12)))
        new = draw(st.sampled_from([*FRAGMENTS, "", text[at:end] * 2]) | st.text(max_size=3))
        text = text[:at] + new + text[end:]
    return text
