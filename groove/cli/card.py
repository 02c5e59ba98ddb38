"""``groove card``: what to know of a song by heart, on one page."""

from typing import TYPE_CHECKING, Annotated

import typer

from groove.cli.jobs import Result, each_job, write_file
from groove.cli.options import Charts, JsonOption, Moved, TuningOption, tuning_choices
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs
from groove.events import Part

if TYPE_CHECKING:
    from groove.events import Performance
    from groove.neck.instrument import Tuning
    from groove.text.card import Card

_KINDS = Kinds(suffixes=(".pdf", ".html", ".txt"), printed=True)


def card(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        typer.Option(
            "-o", "--output", metavar="FILE", help="Where to: .pdf .html .txt, or FOLDER/."
        ),
    ] = None,
    test: Annotated[
        bool, typer.Option("--test", help="Chords hidden to recite them, answers after.")
    ] = False,
    moved: Moved,
    tuning: TuningOption = None,
    json: JsonOption = False,
) -> None:
    """Make the memory card: key, form, each progression once, moves, start, traps."""
    from groove.cli.performing import perform_options, tell_reading
    from groove.harmony.summary import harmony_summary
    from groove.io.charts import read_song
    from groove.io.config import read_config
    from groove.io.library import load_library
    from groove.pipeline import analyse_song, perform_analysis, song_tuning
    from groove.text.card import card_text, song_card

    jobs = plan_jobs(charts, [output], _KINDS, claimed=Outputs(charts))
    library = load_library()
    options = perform_options(read_config(), moved.choices(), tuning_choices(tuning), tight=True)

    def work(job: Job) -> Result:
        analysis = analyse_song(read_song(job.chart), options)
        tell_reading(analysis.song)
        if json:
            return {"format": 1, "chart": job.chart, **harmony_summary(analysis)}
        tuned = song_tuning(analysis.song, options)
        start = _first_place(perform_analysis(analysis, library, options), tuned)
        made = song_card(analysis, test=test, tuning=tuned, start=start)
        if job.file is None:
            return card_text(made)
        return write_file(job, _card_file(made, job.file.suffix.casefold()))

    raise typer.Exit(each_job(jobs, work, as_json=json))


def _first_place(performance: "Performance", tuning: "Tuning") -> tuple[int, int] | None:
    """Return the string and fret of the part's first note, None where there is no part."""
    from groove.neck.fingering import finger_line

    notes = performance.part_notes(Part.BASS)
    places = finger_line(notes, tempo_map=performance.tempo_map, tuning=tuning).places
    return (places[0].string, places[0].fret) if places else None


def _card_file(made: "Card", suffix: str) -> bytes:
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
