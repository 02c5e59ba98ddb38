"""Hostile scores, each read in turn under a limit of memory; a process of its own, see the test.

``python -m tests.io.hostile_scores`` prints name, time and outcome of each as JSON lines.
"""

import io
import json
import resource
import time
import zipfile
import zlib
from collections.abc import Iterator

from groove.cli.garbage import collect_rarely
from groove.errors import ChartError
from groove.io.abc import song_from_abc
from groove.io.musicxml import song_from_musicxml

MEMORY_BYTES = 200_000_000
SLOW_SEC = 1.0
LONGEST_COUNTS = 150
"""Of half a million numbers: some three seconds of a machine that has nothing else to do."""
NUMBERS = {
    "exponent": "1e400000000",
    "large exponent": "1e99999999",
    "eight nines": "99999999",
    "negative": "-99999999999",
    "five thousand digits": "9" * 5000,
    "a million digits": "7" * 1_000_000,
    "tiny": "0." + "0" * 5000 + "1",
    "nothing by nothing": "0/0",
    "infinite": "inf",
    "no number": "nan",
    "superscript": "²",
    "other digits": "٣",
    "zero": "0",
    "nothing": "",
    "minus zero": "-0",
    "underscore": "1_000",
}
XML_PLACES = {
    "root-alter": "<harmony><root><root-step>C</root-step><root-alter>{}</root-alter></root>"
    "<kind>major</kind></harmony>",
    "bass-alter": "<harmony><root><root-step>C</root-step></root><kind>major</kind><bass>"
    "<bass-step>C</bass-step><bass-alter>{}</bass-alter></bass></harmony>",
    "degree-value": "<harmony><root><root-step>C</root-step></root><kind>major</kind><degree>"
    "<degree-value>{}</degree-value><degree-alter>0</degree-alter></degree></harmony>",
    "degree-alter": "<harmony><root><root-step>C</root-step></root><kind>major</kind><degree>"
    "<degree-value>9</degree-value><degree-alter>{}</degree-alter></degree></harmony>",
    "offset": "<harmony><root><root-step>C</root-step></root><kind>major</kind>"
    "<offset>{}</offset></harmony>",
    "divisions": "<attributes><divisions>{}</divisions></attributes>",
    "duration": "<note><rest/><duration>{}</duration></note>",
    "backup": "<backup><duration>{}</duration></backup>",
    "forward": "<forward><duration>{}</duration></forward>",
    "fifths": "<attributes><key><fifths>{}</fifths></key></attributes>",
    "beats": "<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>",
    "beat-type": "<attributes><time><beats>4</beats><beat-type>{}</beat-type></time></attributes>",
    "chromatic": "<attributes><transpose><chromatic>{}</chromatic></transpose></attributes>",
    "diatonic": "<attributes><transpose><diatonic>{}</diatonic><chromatic>2</chromatic>"
    "</transpose></attributes>",
    "tempo": '<sound tempo="{}"/>',
    "per-minute": "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
    "<per-minute>{}</per-minute></metronome></direction-type></direction>",
    "ending": '<barline location="left"><ending number="{}" type="start"/></barline>',
    "times": '<barline location="right"><repeat direction="backward" times="{}"/></barline>',
}
ABC_PLACES = {
    "note": "K:C\nA{}|A4|\n",
    "divisor": "K:C\nA/{}|A4|\n",
    "stack": "K:C\n[A{}B]2|A4|\n",
    "rest": "K:C\nz{}|A4|\n",
    "bars of rest": "K:C\nZ{}|A4|\n",
    "ending": "K:C\n|:A4|1-{}B4:|2C4|\n",
    "first of endings": "K:C\n|:A4|{}-3B4:|2C4|\n",
    "tuplet": "K:C\n(3:{}:3ABC|\n",
    "meter": "M:{}/4\nK:C\nA4|\n",
    "meter's unit": "M:4/{}\nK:C\nA4|\n",
    "unit": "L:1/{}\nK:C\nA4|\n",
    "units": "L:{}\nK:C\nA4|\n",
    "tempo": "Q:1/4={}\nK:C\nA4|\n",
    "tempo's unit": "Q:{}/4=100\nK:C\nA4|\n",
    "parts": "P:(AB){}\nK:C\nP:A\nA4|\nP:B\nB4|\n",
}
CHORD = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
NOTE = "<note><rest/><duration>4</duration></note>"


def score(*measures: str) -> bytes:
    """Return a score of measures."""
    bars = "".join(f'<measure number="{n}">{bar}</measure>' for n, bar in enumerate(measures, 1))
    head = "<attributes><divisions>1</divisions></attributes>"
    text = f'<score-partwise><part id="P1">{bars}</part></score-partwise>'
    return text.replace('<measure number="1">', f'<measure number="1">{head}', 1).encode()


def zipped(*members: tuple[str, bytes], packs: bool = True) -> bytes:
    """Return an archive."""
    buffer = io.BytesIO()
    way = zipfile.ZIP_DEFLATED if packs else zipfile.ZIP_STORED
    with zipfile.ZipFile(buffer, "w", way, compresslevel=1) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return buffer.getvalue()


def zip_bomb(name: str, *members: tuple[str, bytes], megabytes: int = 150) -> bytes:
    """Return an archive whose first member unpacks to so many megabytes of spaces.

    One deflated megabyte is laid there over and over, which takes no time (RFC 1951), and the heads
    are told of it: method, checksum and size (APPNOTE 6.3, 4.3.7 and 4.3.12).
    """
    coder = zlib.compressobj(wbits=-15)
    spaces = b" " * 1_000_000
    piece = coder.compress(spaces) + coder.flush(zlib.Z_FULL_FLUSH)
    checksum = 0
    for _ in range(megabytes):
        checksum = zlib.crc32(spaces, checksum)
    data = bytearray(zipped((name, piece * megabytes + coder.flush()), *members, packs=False))
    for head in (8, data.index(b"PK\x01\x02") + 10):
        data[head : head + 2] = zipfile.ZIP_DEFLATED.to_bytes(2, "little")
        data[head + 6 : head + 10] = checksum.to_bytes(4, "little")
        data[head + 14 : head + 18] = (megabytes * len(spaces)).to_bytes(4, "little")
    return bytes(data)


def nested_zip() -> bytes:
    """Return an archive in an archive in an archive, each named as a score."""
    data = b"A" * 30_000_000
    for _ in range(3):
        data = zipped(("score.xml", data))
    return data


def sizes() -> Iterator[tuple[str, bytes | str]]:
    """Yield what is too deep, too long or too many."""
    bar = CHORD + NOTE
    yield "deep", b"<score-partwise>" * 200_000
    yield "deep in a measure", score("<note>" * 5000 + "</note>" * 5000)
    yield "elements", b"<score-partwise>" + b"<a/>" * 3_000_000 + b"</score-partwise>"
    yield "elements under the limit", score(bar, "<a/>" * 190_000)
    yield "text", b"<score-partwise>" + b"x" * 15_000_000 + b"</score-partwise>"
    yield "too many bytes", b"<score-partwise>" + b"x" * 16_000_000
    yield "attribute", b'<score-partwise a="' + b"x" * 15_000_000 + b'"/>'
    attributes = b" ".join(b'a%d=""' % n for n in range(50_000))
    yield "attributes", b"<score-partwise " + attributes + b"/>"
    yield "blank lines", b"\n" * 15_000_000
    yield "measures", score(*[bar] * 30_000)
    yield "chords in a bar", score(*[CHORD * 5_000 + NOTE])
    yield "long notes", score(*[CHORD + NOTE.replace("4<", "99999999<")] * 300)
    divisions = "".join(
        f"<attributes><divisions>{n}</divisions></attributes>{NOTE}" for n in range(3, 4000, 2)
    )
    yield "divisions that share nothing", score(divisions)
    back = '<barline location="right"><repeat direction="backward" times="64"/></barline>'
    front = '<barline location="left"><repeat direction="forward"/></barline>'
    yield "nested repeats", score(*[front + bar] * 60, *[bar + back] * 60)
    yield "jumps", score(*[bar + '<sound dacapo="yes"/>'] * 500)
    yield (
        "titles",
        score(bar).replace(
            b"<part ", b"<work><work-title>" + b"t" * 9_000_000 + b"</work-title></work><part ", 1
        ),
    )
    bomb = zip_bomb("META-INF/container.xml", ("s.xml", b"x"))
    yield "bomb", bomb
    # Packed once: what was the container has the name of a score.
    other = bomb.replace(b"s.xml", b"s.txt").replace(b"META-INF/", b"META_INF_")
    yield "bomb in the score", other
    yield "archives in archives", nested_zip()
    yield "files", zipped(*((f"{n}.xml", b"") for n in range(1500)))
    yield "abc notes", "X:1\nK:C\n" + '"C"A4B4|' * 2000
    yield "abc bars", "X:1\nL:1/4\nK:C\n" + "A4|" * 3_000 + "Z9|" * 2_000
    yield "abc lines", "X:1\nK:C\n" + "\n" * 10_000_000
    yield "abc tunes", "X:1\nK:C\nA8|\n\n" * 15_000
    yield "abc slashes", "X:1\nK:C\nA" + "/" * 90_000 + "|A8|\n"
    yield "abc broken", "X:1\nK:C\nA" + ">" * 90_000 + "B|A8|\n"
    yield "abc colons", "X:1\nK:C\nA8|" + ":" * 90_000 + "A8|\n"
    yield "abc bar lines", "X:1\nK:C\nA8" + "|" * 90_000 + "A8|\n"
    yield "abc quotes", "X:1\nK:C\n" + '"' * 40_001 + "A8|\n"
    yield "abc brackets", "X:1\nK:C\n" + "[" * 40_000 + "A8|\n"
    yield "abc braces", "X:1\nK:C\n" + "{" * 40_000 + "A8|\n"
    yield "abc signs", "X:1\nK:C\n" + "!a" * 10_000 + "|\n"
    yield "abc carets", "X:1\nK:C\n" + "^" * 40_000 + "|\n"
    yield "abc endings", "X:1\nK:C\n|:A8|" + "1-64," * 15_000 + "B8:|\n"
    yield "abc parts", "X:1\nP:" + "(" * 30_000 + "A" + ")9" * 30_000 + "\nK:C\nP:A\nA8|\n"
    yield "abc part times", "X:1\nP:" + "(" * 20 + "A" + ")99" * 20 + "\nK:C\nP:A\nA8|\n"
    lengths = "".join(f"A/{n}" for n in range(3, 4001, 2))
    yield "abc lengths that share nothing", f"X:1\nK:C\n{lengths}|A8|\n"
    yield "abc odd letters", "X:1\nK:C\n" + "§" * 40_000 + "|A8|\n"
    yield "abc texts", "X:1\nK:C\n" + '"no chord"A' * 2500 + "|\n"
    yield "abc jumps", "X:1\nL:1/4\nK:C\n" + '"C"A4!D.C.!|' * 1000
    yield "abc fields", "X:1\n" + "Q:1/4=100\n" * 3000 + "K:C\nA8|\n"


def cases() -> Iterator[tuple[str, bytes | str]]:
    """Yield every case: a name, and bytes of MusicXML or a text of ABC."""
    for number, text in NUMBERS.items():
        for place, pattern in XML_PLACES.items():
            bar = pattern.format(text)
            yield f"{place}, {number}", score(CHORD + NOTE, CHORD + bar + NOTE, CHORD + NOTE)
        for place, pattern in ABC_PLACES.items():
            yield f"abc {place}, {number}", "X:1\n" + pattern.format(text)
    yield from sizes()


def outcome(data: bytes | str) -> str:
    """Return what came of a score: ``read``, or the place and the words of its error."""
    try:
        if isinstance(data, str):
            song_from_abc(data, "a file")
        else:
            song_from_musicxml(data, "a file")
    except ChartError as error:
        return f"{error.place.source}:{error.place.line} {error.message}"
    return "read"


def timed(data: bytes | str) -> tuple[str, float]:
    """Return what came of one case, and the seconds of processor that it took."""
    start = time.process_time()
    found = outcome(data)
    return found, time.process_time() - start


def yardstick_sec() -> float:
    """Return how long a count of half a million takes just now: the best of three."""
    found = []
    for _ in range(3):
        start = time.process_time()
        assert sum(number % 7 for number in range(500_000)) > 0
        found.append(time.process_time() - start)
    return min(found)


def main() -> None:
    """Read every case and print what came of it, with the collector as the command has it."""
    collect_rarely()
    song_from_musicxml(score(CHORD + NOTE))
    song_from_abc('X:1\nK:C\n"C"A8|\n')
    for name, data in cases():
        held = len(data)
        # What the case itself takes is no memory of the reader's.
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES + held, resource.RLIM_INFINITY))
        found, seconds = timed(data)
        resource.setrlimit(resource.RLIMIT_AS, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        # What is quick is not compared: the yardstick would take longer than all of it.
        counts = seconds / yardstick_sec() if seconds > SLOW_SEC else 0.0
        if counts > LONGEST_COUNTS:
            # Other work on the machine slows a process too: the better of two counts.  Beside what
            # the first reading has left, the second would not fit into its memory.
            counts = min(counts, timed(data)[1] / yardstick_sec())
        print(json.dumps([name, round(counts, 1), found]), flush=True)


if __name__ == "__main__":
    main()
