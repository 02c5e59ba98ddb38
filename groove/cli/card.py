"""``groove card``: what to know of a song by heart, on one page."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from groove.cli.console import each_chart, say
from groove.cli.options import Charts, InKey, Json, Transpose, Tuning
from groove.cli.targets import Outputs, require_folder
from groove.errors import OptionError
from groove.events import Part

if TYPE_CHECKING:
    from groove.events import Performance
    from groove.neck.instrument import Tuning as Strings
    from groove.text.card import Card

KINDS = (".txt", ".html", ".pdf")


def card(
    charts: Charts,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE", help="Where to: .pdf, .html or .txt."),
    ] = None,
    test: Annotated[
        bool, typer.Option("--test", help="Chords hidden to recite them, answers after.")
    ] = False,
    transpose: Transpose = 0,
    key: InKey = None,
    tuning: Tuning = None,
    json: Json = False,
) -> None:
    """Make the memory card: key, form, each progression once, moves, start, traps."""
    from groove.cli.performing import perform_options, tell_reading
    from groove.harmony.summary import harmony_summary
    from groove.io.charts import read_song
    from groove.io.config import read_config
    from groove.io.files import write_whole
    from groove.io.library import load_library
    from groove.pipeline import analyse_song, perform_analysis, song_tuning
    from groove.text.card import card_text, song_card

    if output and (output.suffix.casefold() not in KINDS or len(charts) > 1):
        hint = "expected one chart and a file ending in " + ", ".join(KINDS)
        raise OptionError(f"cannot write the card to {output}", hint=hint)
    if output:
        require_folder(output)
        Outputs(charts).claim(output)
    library = load_library()
    options = perform_options(
        read_config(), transpose=transpose, key=key, tuning=tuning, tight=True
    )

    def work(name: str) -> Mapping[str, object] | str:
        analysis = analyse_song(read_song(name), options)
        song = analysis.song
        tell_reading(song)
        if json:
            return {"format": 1, "chart": name, **harmony_summary(analysis)}
        tuned = song_tuning(song, options)
        start = first_place(perform_analysis(analysis, library, options), tuned)
        made = song_card(analysis, test=test, tuning=tuned, start=start)
        if output is None:
            return card_text(made)
        write_whole(output, card_file(made, output.suffix.casefold()))
        say(f"wrote {output}")
        return ""

    raise typer.Exit(each_chart(charts, work, as_json=json))


def first_place(performance: "Performance", tuning: "Strings") -> tuple[int, int] | None:
    """Return the string and fret of the part's first note, None where there is no part."""
    from groove.neck.fingering import finger_line

    notes = performance.part_notes(Part.BASS)
    places = finger_line(notes, tempo_map=performance.tempo_map, tuning=tuning).places
    return (places[0].string, places[0].fret) if places else None


def card_file(made: "Card", suffix: str) -> bytes:
    """Return the card as the bytes of a file of one kind."""
    if suffix == ".pdf":
        from groove.io.pdf import pdf_bytes
        from groove.sheet.card_pdf import card_typst

        return pdf_bytes(card_typst(made))
    if suffix == ".html":
        from groove.text.card_html import card_html

        return card_html(made).encode()
    from groove.text.card import card_text

    return card_text(made).encode()
