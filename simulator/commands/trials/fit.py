"""``fallsown fit``: few parameters fitted to a trial, and how far they carry."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.trials.trial import TRIAL, load_trial
from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    from simulator.parameters.files import ParameterFile
    from simulator.show.answer import Reply
    from simulator.trials.fitting import Fitted
    from simulator.trials.trial import Trial

MOST_DRAWS = 1000
NO_PARAMETER = "none"


@click.command("fit", short_help="Fit few parameters to the plots of a trial.")
@options.with_options(TRIAL)
@options.several(
    "--free",
    help="Parameters of the cereals, or shared by all soils, to fit beside each site's nitrogen "
    "supply; 'none' fits the supply only.  "
    "[default: radiation_use_efficiency,leaf_growth_rate,growth_index_full]",
)
@click.option(
    "--leave-out",
    type=click.Choice(["season", "year", "site", "none"]),
    default="season",
    show_default=True,
    help="What to leave out in turn and foretell: a fall at one site, a fall at every "
    "site, or a site.",
)
@click.option(
    "--bootstrap",
    "draws",
    type=click.IntRange(0, MOST_DRAWS),
    default=20,
    show_default=True,
    metavar="N",
    help="Draws of seasons for the intervals; 0 for none.",
)
@click.option(
    "--rounds",
    type=click.IntRange(0, 500),
    default=25,
    show_default=True,
    metavar="N",
    help="Rounds of the global search; 0 only searches near the defaults.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31),
    default=1,
    show_default=True,
    metavar="N",
    help="The same seed gives the same fit.",
)
@click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write a parameter file, FILE.toml, for --parameters.",
)
@CHART
@options.with_options(options.UNITS, options.JSON, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Fit each site's nitrogen supply, and few parameters of the cereal, to the plots of a trial.

    Says how near the fit comes to what was measured, how near to plots that it has not seen, and
    what a plain regression does on the same plots. Free few parameters: many fit everything and
    foretell nothing. With '--free none' each site is fitted by itself.
    """
    from simulator.commands.shared.charting import draw
    from simulator.show.output import json_text

    reply = ask(chart=chart, as_json=as_json, out=out, **asked)
    if chart is not None and reply.draw is not None:
        draw(reply.draw(), chart)
    click.echo(json_text(reply.answer) if as_json else reply.text)
    if out is not None:
        options.announce(f"Written: {out}, for --parameters.")


def ask(
    *,
    free: tuple[str, ...],
    leave_out: str,
    draws: int,
    rounds: int,
    seed: int,
    out: Path | None,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.fit import data, table, words
    from simulator.commands.shared.answering import as_asked
    from simulator.parameters.files import write_parameters
    from simulator.show import cautions
    from simulator.show.answer import Reply
    from simulator.show.output import Answer, check_destination
    from simulator.trials import leaving_out
    from simulator.trials.fitting import DEFAULT_FREE, Search, fit, quantities_of, warnings_of
    from simulator.trials.regression import regression
    from simulator.trials.trial import Trial, Weighting

    files = [asked["plots"], *(text.partition("=")[2].strip() for text in asked["weather"])]
    check_destination(
        out,
        inputs=[*files, asked["parameters"]],
        suffixes=(".toml",),
        called="one of the files read",
    )
    check_chart(chart, files)
    loaded = load_trial(**asked)
    plots, rows_left_out = loaded.plots.covered_by(loaded.records)
    records = {site: loaded.records[site] for site in plots.sites}
    trial = Trial(
        plots,
        records,
        site_soils=loaded.site_soils,
        site_crops=loaded.site_crops,
        cereal_sets=loaded.cereals,
    )
    quantities = quantities_of(trial, _names(free, DEFAULT_FREE))
    part: leaving_out.Part | None = None if leave_out == NO_PARAMETER else leave_out  # type: ignore[assignment]
    weighting, search = Weighting(), Search(rounds=rounds, seed=seed)
    steps = leaving_out.steps(trial, quantities, part, draws, search)
    with options.progress(steps) as tick:
        found = fit(trial, quantities, weighting=weighting, search=search, tick=tick)
        unseen = (
            leaving_out.leave_out(
                trial, quantities, part, weighting=weighting, search=search, tick=tick
            )
            if part
            else None
        )
        within = (
            leaving_out.intervals(
                trial, found, draws, weighting=weighting, search=search, tick=tick
            )
            if draws and quantities
            else None
        )
    line = regression(trial, [part] if part else [])
    simulated = {
        data.DEFAULTS: trial.simulate((), found.values[:0])[:, 0],
        data.FITTED: trial.simulate(found.quantities, found.values)[:, 0],
        **({data.LEFT_OUT: unseen.simulated[:, 0]} if unseen else {}),
    }
    foretold = line.left_out[part] if part else None
    if line.fitted is not None:
        simulated[data.REGRESSED] = line.fitted
    if foretold is not None:
        simulated[data.REGRESSED_OUT] = foretold
    rows = data.parameter_rows(found, within, warnings_of(trial, found, weighting))
    skill = data.skill_rows(trial, simulated)
    system = options.shown_units(units or plots.system, next(iter(records.values())))
    changed, told = options.parameters_used()
    answer = Answer(
        command="fit",
        version=__version__,
        line=options.command_line(),
        inputs={
            "plots": plots.file,
            "weather": {site: str(one.attrs["source"]) for site, one in records.items()},
            "soil": {site: one.name for site, one in trial.soils.items()},
            "previous_crop": {site: one.name for site, one in trial.crops.items()},
            "seed": seed,
            "rounds": rounds,
            "bootstrap": draws,
            "leave_out": leave_out,
            **changed,
        },
        data=data.dataset(rows),
        rows=rows,
        left_out=rows_left_out,
        notes=[*told, *loaded.notes, *plots.notes, *(unseen.notes if unseen else ())],
        cautions=[
            cautions.invented(str(one.attrs["site"]))
            for one in records.values()
            if one.attrs.get("invented") == "yes"
        ],
        sentences=words.sentences(rows, skill, found, unseen, line.why_none, system),
        more={"skill": skill},
    )
    if out is not None:
        base = options.load_parameters(asked["parameters"])
        about = {
            "plots": plots.file,
            "weather": [f"{site}: {one.attrs['source']}" for site, one in records.items()],
            "seasons": [f"{site} {year}" for site, year in trial.seasons],
            "skill": answer.sentences,
            "on_bounds": [
                f"{row['of']} {row['parameter']}"
                for row in rows
                if "on its bound" in row["warnings"]
            ],
            "seed": seed,
        }
        write_parameters(_file(base, trial, found, about), out)

    def draw() -> Any:
        from simulator.answers.shared.parameter_charts import fitted_chart

        headline, below = words.headline(trial, skill, system)
        return fitted_chart(rows, headline, below)

    return Reply(
        answer=as_asked(answer),
        draw=draw if rows else None,
        lay_heading=lambda: words.heading(trial, found, weighting),
        lay_tables=lambda: table.tables(rows, skill, list(simulated), system),
    )


def _names(free: tuple[str, ...], default: tuple[str, ...]) -> list[str]:
    if not free:
        return list(default)
    names = options.parts(free, option=Parameter("free"))
    if NO_PARAMETER not in names:
        return names
    if len(names) > 1:
        raise fault(
            Parameter("free"),
            f"'{NO_PARAMETER}' stands beside other names.",
            "Give it alone, or leave it away.",
        )
    return []


def _file(base: ParameterFile, trial: Trial, found: Fitted, about: dict[str, Any]) -> ParameterFile:
    """Make a parameter file of a fit, upon what the file that it began with had changed."""
    from dataclasses import replace

    from simulator.parameters.files import Site

    cereal = {name: dict(values) for name, values in base.cereal.items()}
    soil = {name: dict(values) for name, values in base.soil.items()}
    own: dict[str, dict[str, float]] = {
        site: dict(base.site[site].values) if site in base.site else {} for site in trial.sites
    }
    for q, value in zip(found.quantities, found.values, strict=True):
        shown = min(max(float(f"{value:.6g}"), q.low), q.high)
        if q.kind == "cereal":
            cereal.setdefault(q.owner, {})[q.name] = shown
        elif q.kind == "site":
            own[q.owner][q.name] = shown
        else:
            for ground in {one.name for one in trial.soils.values()}:
                soil.setdefault(ground, {})[q.name] = shown
    sites = {
        site: Site(soil=trial.soils[site].name, previous_crop=trial.crops[site].name, values=values)
        for site, values in own.items()
    }
    made = {
        "made_by": f"fallsown {__version__}",
        "command": options.command_line(),
        "date": date.today().isoformat(),
    }
    return replace(
        base,
        cereal=cereal,
        soil=soil,
        site={**base.site, **sites},
        provenance={**made, **about},
        path="",
    )
