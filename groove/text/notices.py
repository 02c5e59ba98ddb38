"""What was decided for the player, in words."""

from collections.abc import Callable, Iterable

from groove.chart.tab_scale import Doubt
from groove.notices import Notice, NoticeKind

_WORDS = {
    NoticeKind.KEY_READ_AS: "{where}: {key} is read as {better}",
    NoticeKind.MODE_STAYS: "the song is {mode} and stays so: it is in {key}",
    NoticeKind.CHORDS_SPEAK_FOR: "the chords speak for {key}, which is read as {better}",
    NoticeKind.NOW_WRITTEN: "line {line}: {old} is now written {new}",
    NoticeKind.UNPLAYED_SECTION: "{section} (line {line}) is played nowhere: form: leaves it out",
    NoticeKind.UNPLAYED_RIFF: "{name} (line {line}) is played nowhere: write {part}: {name} in a "
    "section",
    NoticeKind.LINE_CHANGED: "the notes of the file are no longer its chart's own: they are "
    "written under it",
    NoticeKind.CHORDS_CHANGED: "the chords of the file are no longer its chart's own: they stand "
    "in it in their place",
    NoticeKind.USUAL_FEEL: "feel: {feel}, the usual one in {meter}",
    NoticeKind.STYLE: "feel: {feel}, for {style}",
    NoticeKind.UNSERVED_STYLE: "feel: {feel}, the usual one in {meter}: no feel for {style} "
    "fits that meter",
    NoticeKind.OTHER_FEEL: "bars in {meter} take the feel {feel}: {named} is in {own_meter}",
    NoticeKind.FIRST_BEATS: "bars in {meter}: {feel}, in {own_meter}, plays its first beats",
    NoticeKind.STARTS_AGAIN: "bars in {meter}: {feel}, in {own_meter}, starts again within the bar",
    NoticeKind.OTHER_CELL: "{part} in {meter}: the feel's own in place of {cell}",
    NoticeKind.OWN_CELL: "{part} {cell}: the chart's own, in place of the shipped one",
    NoticeKind.NO_SWING: "swing is left out in section {section}: its cells are in triplets",
    NoticeKind.KEY: "key: {key}, worked out from the chords",
    NoticeKind.MODE: "key: {key}; a MIDI file has major and minor only and says {nearest}",
    NoticeKind.UNHEARD: "bar {bar}: {symbol} is not heard, it lasts no longer than the push "
    "after it",
    NoticeKind.RAISED: "{name} falls below the lowest string, first over {symbol} in bar {bar}: "
    "an octave up there",
    NoticeKind.HOLDS_NOTHING: "bar {bar} begins with a hold, and no note before it lasts so long",
    NoticeKind.SLIDES_IN: "bar {bar}: the first note slides in from below, for none stands before "
    "it",
    NoticeKind.ABOVE_FRET: "written notes stay where they are above fret {fret}: fret {highest} in "
    "bar {bar}",
    NoticeKind.STRETCH: "bar {bar}: frets {low} and {high} at once are farther apart than a hand "
    "reaches",
    NoticeKind.NO_SUCH_BARS: "bars {first} to {final} are left out: the song's last is {last}",
}

_MOST_LISTED = 6


def notice_text(notice: Notice) -> str:
    """Return a notice in one line."""
    if notice.kind in _MAKERS:
        return _MAKERS[notice.kind](notice)
    values = dict(notice.values)
    text = _WORDS[notice.kind].format(bar=notice.bar, **values)
    if made := values.get("made"):
        return f"{text}; {made} is made for {values['meter']}"
    if made_for := values.get("made_for"):
        text = f"{text}; it is made for {made_for}, the song has {values['tempo']}"
    others = values.get("others")
    return f"{text}; others for it: {others}" if others else text


def notice_texts(notices: Iterable[Notice]) -> list[str]:
    """Return notices in words, a line each."""
    return [notice_text(notice) for notice in notices]


def _loudness(notice: Notice) -> str:
    return "loudness: " + ", ".join(f"{name} {_level(how)}" for name, how in notice.values)


def _level(how: str | int) -> str:
    """Return a section's dynamic, or the velocity that its name adds."""
    return f"{how:+d} by its name" if isinstance(how, int) else how


def _controls(notice: Notice) -> str:
    values = dict(notice.values)
    are = "1 control character is read as a blank"
    if values["count"] != 1:
        are = f"{values['count']} control characters are read as blanks, the first"
    return f"{are} in line {values['line']}"


def _doubtful_tab(notice: Notice) -> str:
    values = dict(notice.values)
    others = int(values["bars"]) - 1
    doubt = _DOUBTS[Doubt(str(values["doubt"]))] + (f", so are {others} more" if others else "")
    beats = "a row of beats under the strings, as 1 2 3 4, stands above that"
    return f"line {values['line']}: bar {notice.bar} {doubt}; {beats}"


def _struck_again(notice: Notice) -> str:
    message = "a note held or slurred from a bar that does not stand before it is struck again"
    return f"bar {_listed(notice, 'bar')}: {message}"


def _line_differs(notice: Notice) -> str:
    message = "its line differs from time to time; what differs is in"
    return f"{dict(notice.values)['section']}: {message} {_listed(notice, 'other')}"


def _file(notice: Notice) -> str:
    """Return what was changed or left out of a file of another program, and where."""
    where = _listed(notice, "place")
    message = str(dict(notice.values)["message"])
    return f"{where}: {message}" if where else message


def _listed(notice: Notice, name: str) -> str:
    """Return the values of one name in a row, the first few of many."""
    found = [str(value) for key, value in notice.values if key == name]
    more = f" and {len(found) - _MOST_LISTED} more" if len(found) > _MOST_LISTED else ""
    return ", ".join(found[:_MOST_LISTED]) + more


_DOUBTS = {
    Doubt.TRIPLETS: "is read in triplets, a column each",
    Doubt.WIDE_SIGNS: "is read one column a slot, for its wider signs fit no other grid",
}
_MAKERS: dict[NoticeKind, Callable[[Notice], str]] = {
    NoticeKind.LOUDNESS: _loudness,
    NoticeKind.CONTROLS: _controls,
    NoticeKind.DOUBTFUL_TAB: _doubtful_tab,
    NoticeKind.STRUCK_AGAIN: _struck_again,
    NoticeKind.LINE_DIFFERS: _line_differs,
    NoticeKind.FILE: _file,
}
"""What makes the words of a kind that is more than one pattern."""
