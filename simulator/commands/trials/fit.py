"""``fallsown fit``: few parameters fitted to a trial, and how far they carry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options, plan_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.trials.trial_options import TRIAL_OPTIONS, load_trial
from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    from simulator.parameters.files import ParameterFile
    from simulator.show.answer import Reply
    from simulator.show.output import Answer
    from simulator.trials.cross_validation import CrossValidation, FoldBy
    from simulator.trials.fit_objective import Array, Trial, Weighting
    from simulator.trials.fitting import Fitted, Search
    from simulator.trials.regression import Regression
    from simulator.units import System

MOST_DRAWS = 1000
NO_PARAMETER = "none"


@click.command("fit", short_help="Fit few parameters to the plots of a trial.")
@options.with_options(TRIAL_OPTIONS)
@options.list_option(
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
    help="What to leave out in turn and predict: a fall at one site, a fall at every "
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
    predict nothing. With '--free none' each site is fitted by itself.
    """
    from simulator.commands.shared.charting import draw
    from simulator.show.output import json_text

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    if chart is not None and reply.draw is not None:
        draw(reply.draw(), chart)
    click.echo(json_text(reply.answer) if as_json else reply.text)
    if out is not None:
        options.announce(f"Written: {out}, for --parameters.")


@dataclass(frozen=True, slots=True)
class _Fits:
    """A trial fitted, and what the same data say of the fit.

    Parameters
    ----------
    trial : Trial
    found : Fitted
    weighting : Weighting
    unseen : CrossValidation or None
        What a fit to the others foretells of each fold, where folds are left out.
    within : array or None
        Intervals, where there are draws.
    line : Regression
        A plain regression on the same plots.
    left_out : str or None
        What is left out in turn.
    """

    trial: Trial
    found: Fitted
    weighting: Weighting
    unseen: CrossValidation | None
    within: Array | None
    line: Regression
    left_out: FoldBy | None

    def own_error(self, base: ParameterFile) -> dict[str, float]:
        """Return how far off the model is in fields like these; empty where none was left out."""
        from simulator.trials.own_error import own_error

        if self.unseen is None:
            return {}
        of_rows = [self.trial.seasons[at] for at in self.trial.season_of]
        made = own_error(
            self.unseen.simulated[:, 0],
            self.trial.biomass,
            [site for site, _ in of_rows],
            [year for _, year in of_rows],
            base.model_error_set("level"),
        )
        return {name: getattr(made, name) for name in made.specs() if name != "offset"}

    def simulated(self) -> dict[str, Array]:
        """Return the biomass of each plot as each way has it."""
        from simulator.answers.fit import data

        trial, found, line = self.trial, self.found, self.line
        simulated = {
            data.DEFAULTS: trial.simulate((), found.values[:0])[:, 0],
            data.FITTED: trial.simulate(found.quantities, found.values)[:, 0],
            **({data.LEFT_OUT: self.unseen.simulated[:, 0]} if self.unseen else {}),
        }
        foretold = line.left_out[self.left_out] if self.left_out else None
        if line.fitted is not None:
            simulated[data.REGRESSED] = line.fitted
        if foretold is not None:
            simulated[data.REGRESSED_OUT] = foretold
        return simulated


def make_reply(
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
    from simulator.answers.fit import data
    from simulator.show.output import check_destination
    from simulator.trials.fit_objective import Trial
    from simulator.trials.fitting import Search, warnings_of

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
    by: FoldBy | None = None if leave_out == NO_PARAMETER else leave_out  # type: ignore[assignment]
    fits = _fit(trial, free, by, draws, Search(rounds=rounds, seed=seed))
    simulated = fits.simulated()
    rows = data.parameter_rows(
        fits.found, fits.within, warnings_of(trial, fits.found, fits.weighting)
    )
    skill = data.skill_rows(trial, simulated)
    system = options.shown_units(units or plots.system, next(iter(records.values())))
    answer = _answer(
        fits,
        rows,
        skill,
        system,
        how={"seed": seed, "rounds": rounds, "bootstrap": draws, "leave_out": leave_out},
        left_out=rows_left_out,
        notes=loaded.notes,
    )
    if out is not None:
        _write(out, fits, rows, answer, options.load_parameters(asked["parameters"]), seed)
    return _reply(answer, fits, rows, skill, list(simulated), system)


def _fit(
    trial: Trial, free: tuple[str, ...], by: FoldBy | None, draws: int, search: Search
) -> _Fits:
    """Fit the trial, then without each fold of it, then to draws of its seasons."""
    from simulator.trials.cross_validation import cross_validate, intervals, steps
    from simulator.trials.fit_objective import Weighting
    from simulator.trials.fitting import DEFAULT_FREE, fit, quantities_of
    from simulator.trials.regression import regression

    quantities = quantities_of(trial, _names(free, DEFAULT_FREE))
    weighting = Weighting()
    ticks = steps(trial, quantities, by, draws, search)
    with options.progress(ticks) as tick:
        how: dict[str, Any] = {"weighting": weighting, "search": search, "tick": tick}
        found = fit(trial, quantities, **how)
        unseen = cross_validate(trial, quantities, by, **how) if by else None
        within = intervals(trial, found, draws, **how) if draws and quantities else None
    line = regression(trial, [by] if by else [])
    return _Fits(trial, found, weighting, unseen, within, line, by)


def _answer(
    fits: _Fits,
    rows: list[dict[str, Any]],
    skill: list[dict[str, Any]],
    system: System,
    *,
    how: dict[str, Any],
    left_out: list[str],
    notes: list[str],
) -> Answer:
    """Word the answer."""
    from simulator.answers.fit import data, words
    from simulator.show import cautions
    from simulator.show.output import Answer

    trial, unseen = fits.trial, fits.unseen
    plots, records = trial.plots, trial.records
    changed, parameter_notes = options.parameters_used()
    return Answer(
        command="fit",
        version=__version__,
        line=options.command_line(),
        inputs={
            "plots": plots.file,
            "weather": {site: str(one.attrs["source"]) for site, one in records.items()},
            "soil": {site: one.name for site, one in trial.soils.items()},
            "previous_crop": {site: one.name for site, one in trial.crops.items()},
            **how,
            **changed,
        },
        data=data.dataset(rows),
        rows=rows,
        left_out=left_out,
        notes=[*parameter_notes, *notes, *plots.notes, *(unseen.notes if unseen else ())],
        cautions=[
            cautions.invented(str(one.attrs["site"]))
            for one in records.values()
            if one.attrs.get("invented") == "yes"
        ],
        sentences=words.sentences(rows, skill, fits.found, unseen, fits.line.why_none, system),
        more={"skill": skill},
    )


def _write(
    out: Path,
    fits: _Fits,
    rows: list[dict[str, Any]],
    answer: Answer,
    base: ParameterFile,
    seed: int,
) -> None:
    """Write the parameter file, with what it was fitted to."""
    from simulator.parameters.files import write_parameters

    trial = fits.trial
    about = {
        "plots": trial.plots.file,
        "weather": [f"{site}: {one.attrs['source']}" for site, one in trial.records.items()],
        "seasons": [f"{site} {year}" for site, year in trial.seasons],
        "skill": answer.sentences,
        "on_bounds": [
            f"{row['of']} {row['parameter']}" for row in rows if "on its bound" in row["warnings"]
        ],
        "seed": seed,
    }
    write_parameters(_file(base, trial, fits.found, fits.own_error(base), about), out)


def _reply(
    answer: Answer,
    fits: _Fits,
    rows: list[dict[str, Any]],
    skill: list[dict[str, Any]],
    ways: list[str],
    system: System,
) -> Reply:
    from simulator.answers.fit import table, words
    from simulator.commands.shared.reporting import spell_parameters
    from simulator.show.answer import Reply

    def draw() -> Any:
        from simulator.answers.shared.parameter_charts import fitted_chart

        headline, below = words.headline(fits.trial, skill, system)
        return fitted_chart(rows, headline, below)

    return Reply(
        answer=spell_parameters(answer),
        draw=draw if rows else None,
        lay_heading=lambda: words.heading(fits.trial, fits.found, fits.weighting),
        lay_tables=lambda: table.tables(rows, skill, ways, system),
    )


def _names(free: tuple[str, ...], default: tuple[str, ...]) -> list[str]:
    if not free:
        return list(default)
    names = plan_options.parts(free, option=Parameter("free"))
    if NO_PARAMETER not in names:
        return names
    if len(names) > 1:
        raise fault(
            Parameter("free"),
            f"'{NO_PARAMETER}' stands beside other names.",
            "Give it alone, or leave it away.",
        )
    return []


def _file(
    base: ParameterFile, trial: Trial, found: Fitted, error: dict[str, float], about: dict[str, Any]
) -> ParameterFile:
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
        model_error={**base.model_error, **({"level": error} if error else {})},
        provenance={**made, **about},
        path="",
    )
