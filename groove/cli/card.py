"""``groove card``: what to know of a song by heart, on one page."""

from typing import TYPE_CHECKING, Annotated

import typer

from groove.cli.jobs import Result, each_job, write_file
from groove.cli.options import (
    Charts,
    ForOption,
    JsonOption,
    Moved,
    TuningOption,
    output_option,
    tuning_choices,
)
from groove.cli.targets import Job, Kinds, Outputs, plan_jobs

if TYPE_CHECKING:
    from groove.chart.written_for import WrittenFor
    from groove.harmony.analysis import Analysis
    from groove.pipeline import PerformOptions
    from groove.text.card import Card

_KINDS = Kinds(suffixes=(".pdf", ".html", ".txt"), printed=True)


def card(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        output_option("Where to: .pdf .html .txt, or FOLDER/."),
    ] = None,
    test: Annotated[
        bool, typer.Option("--test", help="Hide the chords; the answers come after.")
    ] = False,
    moved: Moved,
    for_: ForOption = None,
    tuning: TuningOption = None,
    json: JsonOption = False,
) -> None:
    """Make the cue card: what to know by heart, on one page."""
    from groove.cli.performing import perform_options, print_reading
    from groove.cli.values import parse_player
    from groove.harmony.analysis_data import harmony_summary
    from groove.io.charts import read_song
    from groove.io.config import read_config
    from groove.pipeline import analyse_song

    jobs = plan_jobs(charts, [output], _KINDS, claimed=Outputs(charts))
    options = perform_options(read_config(), moved.choices(), tuning_choices(tuning), tight=True)
    whom = parse_player(for_)

    def work(job: Job) -> Result:
        analysis = analyse_song(read_song(job.chart), options)
        if json:
            print_reading(analysis.song)
            told = analysis.transposed(whom.semitones) if whom else analysis
            written = {"written": whom.told(analysis.key)} if whom else {}
            return {"format": 1, "chart": job.chart, **harmony_summary(told), **written}
        made = _song_card(analysis, options, whom, test=test)
        data = card_file(made, job.file.suffix.casefold() if job.file else ".txt")
        return write_file(job, data) if job.file else data.decode()

    raise typer.Exit(each_job(jobs, work, as_json=json))


def _song_card(
    analysis: "Analysis", options: "PerformOptions", whom: "WrittenFor | None", *, test: bool
) -> "Card":
    """Return the card of a song as it is played, and print what was changed in its chart."""
    from groove.cli.performing import print_reading
    from groove.io.library import load_library
    from groove.neck.fingering import finger_performance
    from groove.pipeline import perform_analysis, song_tuning
    from groove.text.card import song_card
    from groove.text.part_facts import part_facts

    tuned = song_tuning(analysis.song, options)
    played = perform_analysis(analysis, load_library(), options)
    print_reading(analysis.song, played.notices)
    placed, _ = finger_performance(played, tuning=tuned)
    part = part_facts(placed, tuned)
    return song_card(analysis, test=test, tuning=tuned, part=part, written_for=whom)


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
