"""From the mapping of a TOML file to a feel, with the path of whatever is wrong."""

from collections.abc import Mapping

from groove.cells.model import Feel, LineKind, Style
from groove.cells.table import Table, check_format, shown
from groove.errors import nearest_hint
from groove.timing import FASTEST_QPM, SLOWEST_QPM, Meter, Swing, parse_swing

TEMPI = range(SLOWEST_QPM, FASTEST_QPM + 1)
PROGRAM_NUMBERS = range(128)
FEEL_KEYS = (
    *("format", "name", "summary", "meter", "tempo", "bass", "drums", "keys", "length_percent"),
    *("swing", "softer_by", "crash", "phrase_bars", "default_for", "fast"),
    *("bass_program", "drum_kit", "keys_program", "also", "style", "line", "climbs"),
)


def read_feel(values: Mapping[str, object], source: str) -> Feel:
    """Return the feel of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    check_format(table)
    table.refuse_unknown(FEEL_KEYS)
    return Feel(
        name=table.name(),
        summary=table.text("summary"),
        source=source,
        meter=table.meter("meter"),
        tempo_beats=_read_tempo(table),
        bass=table.name("bass"),
        drums=table.name("drums"),
        keys=table.name("keys"),
        length_percent=table.whole("length_percent", allowed=range(20, 101)),
        swing=_read_swing(table),
        softer_by=table.whole("softer_by", 0, allowed=range(61)),
        crash=table.flag("crash", True),
        phrase_bars=table.whole("phrase_bars", 4, allowed=range(2, 17)),
        default_for=_read_default_for(table),
        fast=_read_fast(table),
        line=_read_line(table),
        climbs=table.whole("climbs", 0, allowed=range(13)),
        bass_program=table.whole("bass_program", 33, allowed=PROGRAM_NUMBERS),
        drum_kit=table.whole("drum_kit", 0, allowed=PROGRAM_NUMBERS),
        keys_program=table.whole("keys_program", 4, allowed=PROGRAM_NUMBERS),
        also=table.names("also"),
        style=_read_style(table),
    )


def _read_tempo(table: Table) -> tuple[int, int]:
    """Return the slowest and fastest tempo in beats a minute that a feel is made for."""
    tempo = table.wholes("tempo", allowed=TEMPI)
    if len(tempo) != 2 or tempo[0] > tempo[1]:
        found = shown(table.values.get("tempo"))
        table.fail("tempo", f"found {found}, expected [slowest, fastest]", "as: tempo = [72, 104]")
    return tempo[0], tempo[1]


def _read_line(table: Table) -> LineKind:
    """Return what becomes of a feel's line over a song: it stays where nothing is said."""
    text = table.text("line", LineKind.HOOK)
    if text not in list(LineKind):
        hint = nearest_hint(text, LineKind) or "expected one of: " + ", ".join(LineKind)
        table.fail("line", f"found {shown(text)}, expected what becomes of the line", hint)
    return LineKind(text)


def _read_style(table: Table) -> Style | None:
    """Return the style whose notes a feel takes, None where it leaves that to the chords."""
    if "style" not in table.values:
        return None
    text = table.text("style")
    if text not in list(Style):
        table.fail(
            "style",
            f"found {shown(text)}, expected one of: {', '.join(Style)}",
            nearest_hint(text, Style),
        )
    return Style(text)


def _read_swing(table: Table) -> Swing | None:
    """Return a feel's own swing, None where it says nothing."""
    if "swing" not in table.values:
        return None
    text = table.text("swing")
    try:
        return parse_swing(text)
    except ValueError as error:
        table.fail("swing", f"found {shown(text)}, expected {error}")


def _read_default_for(table: Table) -> tuple[Meter, ...]:
    """Return the meters that take this feel when a chart names none."""
    value = table.values.get("default_for", [])
    if not isinstance(value, list):
        table.fail("default_for", f"found {shown(value)}, expected meters in brackets")
    return tuple(table.parse_meter("default_for", item) for item in value)


def _read_fast(table: Table) -> tuple[int, str] | None:
    """Return the tempo above which another drum cell takes over, and its name."""
    fast = table.table("fast")
    if fast is None:
        return None
    fast.refuse_unknown(("above", "drums"))
    return fast.whole("above", allowed=TEMPI), fast.name("drums")
