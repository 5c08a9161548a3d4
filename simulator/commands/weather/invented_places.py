"""Of ``fallsown generate``: places around the fitted one, which do not exist."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.shared import options, plan_options
from simulator.problems import InputError, Parameter, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.output import Answer
    from simulator.units import System
    from simulator.weather.generator.fit import FittedClimatology
    from simulator.weather.generator.invented_places import Places


def refuse_with_places(
    method: str, report: Path | None, out: Path | None, how: dict[str, Any]
) -> None:
    """Name all options that invented places do not take."""
    problems = [Problem(Parameter("places"), "The places need a file.", "Add --out FILE.nc.")] * (
        out is None
    )
    if method != "fitted":
        problems.append(
            Problem(
                Parameter("places"),
                "Only a fitted climate can be shifted to other places.",
                "Leave --method out.",
            )
        )
    given = {
        Parameter("condition"): how["conditions"],
        Parameter("weights"): how["weights"],
        Parameter("kinds"): how["kinds"],
        Parameter("report"): report,
        Parameter("blocks"): how["blocks"] != "season",
    }
    problems += [
        Problem(option, "It is for a single record.", "Leave it out with --places.")
        for option, value in given.items()
        if value
    ]
    if problems:
        raise InputError(problems)


def make_places(
    record: xr.Dataset,
    count: int,
    years: int,
    seed: int,
    first_year: int | None,
    wet_day: float,
    soils: tuple[str, ...],
    out: Path | None,
    units: str | None,
    smoothed: bool,
) -> tuple[Answer, str]:
    """Make the places and write them; return what is said of them."""
    from simulator.parameters.soils import soil
    from simulator.show.output import write_whole
    from simulator.weather.generator.daily import falls, generator_of
    from simulator.weather.generator.fit import fit_climatology
    from simulator.weather.generator.generated import first_of
    from simulator.weather.generator.invented_places import check_count, scatter, write_places

    assert out is not None
    check_count(count)
    names = plan_options.parts(soils, option=Parameter("soils")) if soils else []
    problems = plan_options.faults(soil, names)
    if problems:
        raise InputError(problems)
    first = first_of(years) if first_year is None else first_year
    falls(years, first)
    generator_of(seed)
    system = options.shown_units(units, record)
    fitted = fit_climatology(record, wet_day=wet_day, smoothed=smoothed)
    scattered = scatter(fitted, count, seed)
    with options.progress(count) as advance:
        write_whole(
            out,
            lambda path: write_places(
                path,
                fitted,
                scattered,
                years,
                first,
                seed,
                soils=names,
                command=options.command_line(),
                advance=advance,
            ),
        )
    return _worded(scattered, fitted, record, names, years, seed, system)


def _worded(
    scattered: Places,
    fitted: FittedClimatology,
    record: xr.Dataset,
    names: list[str],
    years: int,
    seed: int,
    system: System,
) -> tuple[Answer, str]:
    """Word the answer: as it is written as JSON, and as people read it."""
    from simulator.answers.generate import data as generate_data
    from simulator.answers.generate import words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import answer_text

    data = generate_data.places_dataset(scattered, names, {**record.attrs, "invented": "yes"})
    answer = make_answer(
        "generate",
        data,
        left_out=[],
        notes=fitted.weak,
        cautions=["The places are invented: their weather was generated, not measured."],
        sentences=words.fit_sentences(fitted, system),
        fit=generate_data.fit_json(fitted),
    )
    answer.inputs.update(years=years, seed=seed, places=len(scattered.names))
    head = words.places_heading(scattered, fitted, years, seed, system)
    return answer, answer_text(answer, head, [])
