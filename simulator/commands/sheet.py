"""``fallsown sheet``: one page for a grower."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.answers.sheet.questions import QUESTIONS
from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings, sowings_moved
from simulator.problems import InputError, Parameter, Problem, fault

if TYPE_CHECKING:
    from simulator.answers.sheet.layout import Sheet
    from simulator.units import System

LONGEST_PLACE = 80
_PLANS = ("sow", "nitrogen", "nitrogen_timing", "end")
_ONLY_FOR = {Parameter("change"): "whatif", Parameter("target"): "risk", Parameter("year"): "why"}
_SINGLE = {"whatif": ("sow", "end"), "why": _PLANS}  # what a question takes one of


@click.command("sheet", short_help="One page for a grower: a question, answered and printed.")
@click.option(
    "--question",
    type=click.Choice(QUESTIONS),
    default="whatif",
    show_default=True,
    help="What is asked: changed weather, sowing date, nitrogen, date of ending, the "
    "chance of reaching a target, or what made a year differ.",
)
@click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the page to FILE.html, or FILE.pdf; without it the text is printed.",
)
@click.option(
    "--place", metavar="NAME", help="Name of the place on the page.  [default: the weather's]"
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="Size of the PDF.  [default: letter with --units us, a4 with si]",
)
@click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="TEXT",
    help="For whatif: what to change; may be given again.  [default: rain november = "
    "11 inch, or 280 mm]",
)
@click.option(
    "--target",
    metavar="MASS",
    help="For risk: the biomass to reach, with its unit.  [default: 4000 lb/acre, or 4500 kg/ha]",
)
@click.option(
    "--year",
    type=int,
    metavar="YEAR",
    help="For why: the fall year.  [default: the one that differs most]",
)
@options.list_option("--sow", help="Sowing dates, month-day.  [default: by question]")
@click.option(
    "--seeding",
    metavar="RATE",
    help="Seeding rate, with its unit.  [default: 90 lb/acre, or 100 kg/ha]",
)
@options.list_option("--nitrogen", help="Nitrogen rates, with a unit.  [default: by question]")
@options.list_option("--nitrogen-timing", help="When it goes on.  [default: by question]")
@options.list_option("--end", help="When the stand is ended.  [default: by question]")
@click.option(
    "--chart",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw the chart alone to FILE.svg, .png, .pdf or .html too.",
)
@options.with_options(
    options.YEARS, options.WEATHER, options.FIELD, options.UNITS, options.JSON, options.DEBUG_OPTION
)
def command(
    *,
    question: str,
    out: Path | None,
    place: str | None,
    paper: str | None,
    changes: tuple[str, ...],
    target: str | None,
    year: int | None,
    seeding: str | None,
    chart: Path | None,
    years: str,
    units: str | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Answer a question on one page that prints on Letter and A4.

    The answer in two sentences, a chart, a table, what it rests on, and what to keep in mind.
    The page asks the network for nothing and runs no script.
    """
    from simulator.answers.sheet.questions import make_sheet
    from simulator.answers.sheet.questions.request import SheetRequest
    from simulator.commands.shared.reporting import check_size

    given = {name: asked.pop(name) for name in _PLANS}
    asked, field = options.split_field(asked)
    _check_files(out, chart, asked["weather"])

    problems: list[Problem] = []
    read = partial(_read, problems, question, {**given, "seeding": seeding}, changes, target)
    wanted = plan_options.gathered(problems, partial(plan_options.parse_years, years))
    problems += _misplaced(
        question,
        {Parameter("change"): changes, Parameter("target"): target, Parameter("year"): year},
    )
    problems += _too_many(question, read("us")[0]) + _bad_place(place)
    if problems:
        raise InputError(problems)
    record = weather_options.load_weather(**asked)
    system = options.shown_units(units, record)
    plans, reach, change = read(system)
    plans["sow"] = covered_sowings(record, plans["sow"], plans["end"], wanted)
    field = with_soil_test(field, plans)
    check_size(wanted, record, 2, *(len(values) for name, values in plans.items() if name != "end"))
    sheet = make_sheet(
        question,
        SheetRequest(
            record=record,
            field=field,
            plans=plans,
            years=wanted,
            system=system,
            place=place or str(record.attrs["site"]),
            changes=change,
            target=reach,
            year=year,
            parameters=[*options.parameters_used()[1], *sowings_moved()],
            announce=options.announce,
            errors=options.model_errors(),
        ),
    )
    _write(sheet, out, chart, paper or ("letter" if system == "us" else "a4"))
    goal = reach if question == "risk" else None
    _print(sheet, system, as_json=as_json, printed=out is None, target_kg_ha=goal)


def _check_files(out: Path | None, chart: Path | None, weather: str | None) -> None:
    """Refuse files that could not be written, or that are read, before anything is run."""
    from simulator.answers.sheet import files
    from simulator.show.charts import SUFFIXES as CHARTS
    from simulator.show.output import check_destination

    check_destination(out, inputs=[weather], suffixes=files.SUFFIXES)
    check_destination(chart, inputs=[weather], option=Parameter("chart"), suffixes=CHARTS)
    if out is not None and chart is not None and out.resolve() == chart.resolve():
        raise fault(
            Parameter("chart"), f"'{chart}' is to hold the page already.", "Name another file."
        )


def _read(
    problems: list[Problem],
    question: str,
    given: dict[str, Any],
    changes: tuple[str, ...],
    target: str | None,
    system: System,
) -> tuple[dict[str, Any], float, tuple[str, ...]]:
    """Read what was given, and in place of the rest what the units' readers use."""
    from simulator.answers.sheet.questions import USUAL, defaults

    usual, change = USUAL[system], changes or (USUAL[system]["change"],)
    plans = plan_options.gathered(
        problems,
        partial(
            plan_options.plans,
            seeding=[given["seeding"] or usual["seeding"]],
            changes=change,
            **{name: given[name] or defaults(question, system)[name] for name in _PLANS},
        ),
    )
    reach = plan_options.gathered(problems, partial(_target, target or usual["target"]))
    return plans or {}, reach or 0.0, change


def _write(sheet: Sheet, out: Path | None, chart: Path | None, paper: str) -> None:
    """Write the page and the chart alone, where they are asked for."""
    from simulator.answers.sheet import files, layout
    from simulator.show.charts import write_chart

    if chart is not None:
        write_chart(layout.titled(sheet), chart, title=f"{sheet.question} {sheet.place}")
        options.announce(f"Drawn: {chart}.")
    if out is not None:
        _warn_of_letters(sheet, out)
        files.write_sheet(sheet, out, paper=paper)
        options.announce(f"Written: {out}.")


def _print(
    sheet: Sheet, system: System, *, as_json: bool, printed: bool, target_kg_ha: float | None
) -> None:
    """Print the page as JSON, or as text where it goes to no file."""
    from simulator import units
    from simulator.answers.sheet import layout
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.output import json_text

    if as_json:
        answer = make_answer(
            "sheet",
            sheet.data,
            left_out=list(sheet.data.attrs.get("left_out", [])),
            cautions=sheet.cautions,
            sentences=[*sheet.answer, *filter(None, [layout.beside_bare(sheet)])],
            notes=sheet.assumptions,
            question=sheet.question,
            target_kg_ha=target_kg_ha,
            units_of_page=units.label("mass", system),
        )
        click.echo(json_text(answer))
    elif printed:
        click.echo(layout.text(sheet))


def _target(text: str) -> float:
    from simulator import units

    reach = units.parse(text, "kg/ha", name=Parameter("target"))
    if not 0.0 < reach <= 40000.0:
        raise fault(Parameter("target"), f"'{text}' is out of range.", "Take up to 40000 kg/ha.")
    return reach


def _misplaced(question: str, given: dict[str, object]) -> list[Problem]:
    """Refuse what another question takes, rather than answer as if it had not been said."""
    return [
        Problem(
            option,
            f"The sheet of this question ({question}) does not use it.",
            f"Leave it out, or ask --question {owner}.",
        )
        for option, owner in _ONLY_FOR.items()
        if owner != question and given[option] not in (None, ())
    ]


def _too_many(question: str, plans: dict[str, list[str]]) -> list[Problem]:
    """Refuse lists where the question takes one of a kind."""
    return [
        Problem(
            Parameter(name),
            f"{', '.join(plans[name])} are several values.",
            f"The sheet of this question ({question}) takes one.",
        )
        for name in _SINGLE.get(question, ())
        if len(plans.get(name, [])) > 1
    ]


def _bad_place(place: str | None) -> list[Problem]:
    if place is None or (place.strip() and place.isprintable() and len(place) <= LONGEST_PLACE):
        return []
    return [
        Problem(
            Parameter("place"),
            "It is empty, too long, or has letters that cannot be printed.",
            f"Give a name of up to {LONGEST_PLACE} letters.",
        )
    ]


def _warn_of_letters(sheet: Sheet, out: Path) -> None:
    """Say which letters of a name a PDF cannot show."""
    if out.suffix.lower() != ".pdf":
        return
    from simulator.answers.sheet.pdf import lacking

    gone = lacking(sheet.place + " ".join(sheet.assumptions) + sheet.made)
    if gone:
        options.announce(f"The PDF's typeface lacks {' '.join(gone)}; a page (.html) has them.")
