"""What the names in a chart stand for: feels, styles, cells, and what is offered in their place.

The parser keeps the names with their places; here the library resolves them, once for every
distinct pair of settings and meter, and an error still points into the chart.
"""

from collections.abc import Mapping, Sequence
from textwrap import wrap
from types import MappingProxyType
from typing import NamedTuple, cast

from groove.cells.library import (
    CellKind,
    cells_of,
    default_feel,
    feel_serves,
    find_cell,
    find_feel,
    fits,
    nearest_feel_for,
    nearest_name,
)
from groove.cells.model import Cell, Feel, Library
from groove.cells.styles import best_feel, feels_of_style, missed_tempi, styles_of
from groove.chart.model import DEFAULT_METER, Named, Riff, Settings
from groove.chart.riffs import riff_cell
from groove.errors import ChartError, OptionError, joined_hints, nearest_hint
from groove.events import Part
from groove.naming import OUT_WORDS, fold_name
from groove.notices import Notice, NoticeKind, make_notice
from groove.theory.general_midi import BASS_TONES
from groove.timing import Meter

_NEAR_STYLE = 0.7
"""How like a feel's name must be to be offered: words of four letters may differ in one."""
_HINT_COLUMNS = 90
_NO_BREAK = "\N{NO-BREAK SPACE}"

NO_RIFFS: Mapping[tuple[Part, str], Riff] = MappingProxyType({})


class WantedCell(NamedTuple):
    """A part's cell as a bar asks for it: ``default`` is the feel's, played where none is named.

    ``meter`` is the bar's, ``riff_meter`` the section's, in which a chart's own cell is written.
    """

    kind: CellKind
    named: Named | None
    default: str
    meter: Meter
    riff_meter: Meter


class Resolver:
    """Resolves names once for every distinct pair of settings and meter."""

    def __init__(
        self,
        library: Library,
        feel_option: str | None,
        riffs: Mapping[tuple[Part, str], Riff] = NO_RIFFS,
    ) -> None:
        """``feel_option`` is a feel or a style that stands above the chart's, as ``riffs`` do."""
        self._library = library
        self._feel_option = feel_option
        self.notices: dict[Notice, None] = {}
        self._riffs = riffs
        self._feels: dict[tuple[Named | None, Meter, Meter], Feel] = {}
        self._styles: dict[tuple[str, Meter], Feel] = {}
        self._cells: dict[WantedCell, Cell | None] = {}

    def feel_for(self, settings: Settings, meter: Meter, pulse_bpm: float) -> Feel:
        """Return the feel of a bar: as named, or the usual one of its meter.

        ``pulse_bpm`` is the tempo that the chart states there.
        """
        # A style is chosen for its section's meter: a bar of another one there has that feel too.
        key = (settings.feel, meter, settings.meter or DEFAULT_METER)
        if key not in self._feels:
            self._feels[key] = self._find_feel(settings, meter, pulse_bpm)
        return self._feels[key]

    def _find_feel(self, settings: Settings, meter: Meter, pulse_bpm: float) -> Feel:
        """Return the named feel where it can be played in the meter, else the meter's own."""
        named = settings.feel
        if not self._feel_option and not named:
            usual = default_feel(self._library, meter)
            self.note(NoticeKind.USUAL_FEEL, feel=usual.name, meter=str(meter))
            return usual
        name = self._feel_option or (named.name if named else "")
        own_meter = settings.meter or DEFAULT_METER
        feel = find_feel(self._library, name) or self._style_feel(name, own_meter, pulse_bpm)
        if feel is None:
            message, hint = f"no such feel: {name!r}", unknown_feel_hint(self._library, name)
            if named and not self._feel_option:
                raise ChartError(message, place=named.place, hint=hint)
            raise OptionError(message, hint=hint)
        if feel_serves(self._library, feel, meter):
            self._note_fitting(feel, meter)
            return feel
        other = nearest_feel_for(self._library, meter)
        self.note(
            NoticeKind.OTHER_FEEL,
            meter=str(meter),
            feel=other.name,
            named=feel.name,
            own_meter=str(feel.meter),
        )
        return other

    def _style_feel(self, word: str, meter: Meter, pulse_bpm: float) -> Feel | None:
        """Return the feel for a style's word, None where no feel carries it.

        It is chosen once in sections of a meter, at the tempo of the first: a band keeps its feel
        through a ritard, a bar of another meter, and a slow rehearsal.  Where none of the style can
        be played in the meter, it is the meter's usual feel.
        """
        key = (fold_name(word), meter)
        if key not in self._styles:
            feels = feels_of_style(self._library, word)
            if not feels:
                return None
            best = best_feel(self._library, feels, word, meter, pulse_bpm)
            if feel_serves(self._library, best, meter):
                kind = NoticeKind.STYLE
                others = ", ".join(feel.name for feel in feels if feel is not best)
                values = {"others": others}
            else:
                kind = NoticeKind.UNSERVED_STYLE
                best = default_feel(self._library, meter)
                values = {"meter": str(meter)}
            values |= missed_tempi(best, meter, pulse_bpm)
            self.note(kind, style=word, feel=best.name, **values)
            self._styles[key] = best
        return self._styles[key]

    def _note_fitting(self, feel: Feel, meter: Meter) -> None:
        """Say that a feel plays a part of its bar, or its bar again, in a meter of other beats."""
        if feel.meter is None or feel.meter.pulse_count == meter.pulse_count:
            return
        fewer = meter.pulse_count < feel.meter.pulse_count
        made = nearest_feel_for(self._library, meter)
        self.note(
            NoticeKind.FIRST_BEATS if fewer else NoticeKind.STARTS_AGAIN,
            meter=str(meter),
            feel=feel.name,
            own_meter=str(feel.meter),
            made=made.name if made.meter == meter else "",
        )

    def note(self, kind: NoticeKind, **values: str) -> None:
        """Keep a notice, once."""
        self.notices[make_notice(kind, None, **values)] = None

    def _own_cell(self, riff: Riff, meter: Meter) -> Cell:
        if find_cell(self._library, cast(CellKind, riff.part.value), riff.name):
            self.note(NoticeKind.OWN_CELL, part=riff.part, cell=riff.name)
        return riff_cell(riff, meter)

    def cell(self, wanted: WantedCell) -> Cell | None:
        """Return a part's cell, as named where it serves the meter; None where the part is out."""
        if wanted not in self._cells:
            self._cells[wanted] = self._find_cell(*wanted)
        return self._cells[wanted]

    def _find_cell(
        self, kind: CellKind, named: Named | None, default: str, meter: Meter, riff_meter: Meter
    ) -> Cell | None:
        """Return the cell, and say where it is another one than was named."""
        usual = find_cell(self._library, kind, default)
        if named is None:
            return usual
        if named.is_out:
            return None
        own = self._riffs.get((Part(kind), fold_name(named.name)))
        if own:
            return self._own_cell(own, riff_meter)
        found = find_cell(self._library, kind, named.name)
        if found is None:
            own_names = [riff.name for riff in self._riffs.values() if riff.part == kind]
            hint = _unknown_hint(self._library, kind, named.name, own_names)
            raise ChartError(f"no such {kind} cell: {named.name!r}", place=named.place, hint=hint)
        if fits(found, meter):
            return found
        self.note(NoticeKind.OTHER_CELL, part=kind, meter=str(meter), cell=found.name)
        return usual


def _unknown_hint(library: Library, kind: CellKind, name: str, own: Sequence[str] = ()) -> str:
    """Return the nearest cell of a kind and the list of all, the chart's ``own`` first."""
    known = [*own, *sorted(cell.name for cell in cells_of(library, kind).values()), OUT_WORDS[0]]
    near = nearest_name(library, kind, name, own)
    return _listed(near, "expected one of: " + ", ".join(map(_unbroken, known)))


def unknown_feel_hint(library: Library, name: str) -> str:
    """Return the nearest feel or style, the list of all feels, and who lists the styles.

    Of a tone of the bass it is said that it is one.
    """
    feels = sorted(feel.name for feel in library.feels.values())
    near = nearest_hint(name, [*feels, *styles_of(library)], least=_NEAR_STYLE)
    tone = name.casefold()
    if tone in BASS_TONES:
        near = f"{tone} is a sound of the bass: bass tone: {tone}"
    expected = f"expected one of: {', '.join(map(_unbroken, feels))}"
    lister = _unbroken("'groove feels'")
    return _listed(near, f"{expected}, or a style that {lister} lists")


def _unbroken(name: str) -> str:
    """Return a name whose words stay together on a line until ``_listed`` has set it."""
    return name.replace(" ", _NO_BREAK)


def _listed(near: str, expected: str) -> str:
    """Return a hint in lines, those after the first set in, no name broken."""
    hint = joined_hints(near, expected)
    lines = wrap(hint, _HINT_COLUMNS, break_long_words=False, break_on_hyphens=False)
    return "\n    ".join(lines).replace(_NO_BREAK, " ")
