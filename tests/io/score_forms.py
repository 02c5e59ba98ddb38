"""Forms made at random, as MusicXML and as ABC: each bar has a chord of its own.

A bar is its chord's letter (small: minor) and its signs: ``|:``, ``:|``, ``:|3`` (passes), ``[1``
(an ending begins), ``]1`` (it ends), ``segno``, ``coda``, ``tocoda``, ``fine``, words of a jump.
"""

import random
from collections.abc import Iterator, Sequence

LETTERS = "CDEFGABcdefgab"
Form = list[list[str]]
TAILS = {
    "D.C.": (),
    "D.S.": ("segno",),
    "D.C. al Fine": ("fine",),
    "D.S. al Fine": ("segno", "fine"),
    "D.C. al Coda": ("tocoda",),
    "D.S. al Coda": ("segno", "tocoda"),
}


def spelled(text: str) -> Form:
    """Return a form from its words: ``C |: ; D :|``."""
    return [bar.split(",") for bar in text.split(" ; ")]


def random_form(rng: random.Random, *, with_jump: bool, with_endings: bool) -> Form:
    """Return a form of one to three blocks, and a jump at its end."""
    names = iter(LETTERS)
    kinds = ["plain", "twice", "thrice"] + (["endings", "three endings"] if with_endings else [])
    kinds += [] if with_endings else ["nested"]
    form = [bar for _ in range(rng.randint(1, 3)) for bar in block(names, rng.choice(kinds))]
    if with_jump:
        words = rng.choice(tuple(TAILS))
        leave = rng.randrange(len(form))
        for sign in TAILS[words]:
            form[rng.randint(0, leave) if sign == "segno" else leave].append(sign)
        form.append([next(names), words])
        if "Coda" in words:
            form.append([next(names), "coda"])
    return form


def block(names: Iterator[str], kind: str) -> Form:
    """Return the bars of a block."""
    signs = {
        "plain": ([], []),
        "twice": (["|:"], [":|"]),
        "thrice": (["|:"], [":|3"]),
        "nested": (["|:"], ["|:"], [":|"], [":|"]),
        "endings": (["|:"], ["[1", ":|", "]1"], ["[2", "]2"]),
        "three endings": (["|:"], ["[1", ":|", "]1"], ["[2", ":|", "]2"], ["[3", "]3"]),
    }
    return [[next(names), *own] for own in signs[kind]]


def musicxml(form: Form) -> str:
    """Return a form as MusicXML 4.0."""
    bars = "".join(measure(number, *bar) for number, bar in enumerate(form, start=1))
    return (
        '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1">'
        f'<part-name>x</part-name></score-part></part-list><part id="P1">{bars}</part>'
        "</score-partwise>"
    )


def measure(number: int, letter: str, *signs: str) -> str:
    """Return one bar."""
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    head = f"<attributes><divisions>1</divisions>{time}</attributes>" if number == 1 else ""
    left, right = "".join(starts(signs)), "".join(ends(signs))
    kind = "minor" if letter.islower() else "major"
    return (
        f'<measure number="{number}">{head}'
        + (f'<barline location="left">{left}</barline>' if left else "")
        + "".join(direction(sign) for sign in signs if sign in ("segno", "coda"))
        + f"<harmony><root><root-step>{letter.upper()}</root-step></root><kind>{kind}</kind>"
        "</harmony><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration>"
        "<voice>1</voice><type>whole</type></note>"
        + "".join(direction(sign) for sign in signs if sign in AT_END or sign in TAILS)
        + (f'<barline location="right">{right}</barline>' if right else "")
        + "</measure>"
    )


def starts(signs: Sequence[str]) -> Iterator[str]:
    """Yield what stands in a left bar line."""
    yield from (f'<ending number="{s[1:]}" type="start"/>' for s in signs if s[0] == "[")
    yield from ('<repeat direction="forward"/>' for s in signs if s == "|:")


def ends(signs: Sequence[str]) -> Iterator[str]:
    """Yield what stands in a right bar line."""
    yield from (f'<ending number="{s[1:]}" type="stop"/>' for s in signs if s[0] == "]")
    for sign in signs:
        if sign.startswith(":|"):
            times = f' times="{sign[2:]}"' if sign[2:] else ""
            yield f'<repeat direction="backward"{times}/>'


AT_END = {"tocoda": 'tocoda="coda"', "fine": 'fine="yes"'}
WORDS = {"tocoda": "To Coda", "fine": "Fine"}


def direction(sign: str) -> str:
    """Return a sign as a direction with its sound."""
    if sign in ("segno", "coda"):
        shape = f"<direction-type><{sign}/></direction-type>"
        return f'<direction>{shape}<sound {sign}="{sign}"/></direction>'
    sound = AT_END.get(sign) or ('dacapo="yes"' if "C." in sign else 'dalsegno="segno"')
    words = f"<direction-type><words>{WORDS.get(sign, sign)}</words></direction-type>"
    return f"<direction>{words}<sound {sound}/></direction>"


def abc(form: Form) -> str:
    """Return a form without jumps as ABC 2.1, a whole note of the chord's letter a bar."""
    text = ""
    for letter, *signs in form:
        text += "|:" if "|:" in signs else "|"
        text += "".join(f"[{sign[1:]}" for sign in signs if sign[0] == "[")
        text += f'"{letter.upper()}{"m" if letter.islower() else ""}"{letter}4'
        text += ":|" if ":|" in signs else "|]" if any(sign[0] == "]" for sign in signs) else ""
    return f"X:1\nT:x\nM:4/4\nL:1/4\nK:C\n%%MIDI gchordoff\n{text}|]\n"
