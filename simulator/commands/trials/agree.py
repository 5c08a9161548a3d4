"""``fallsown agree``: a trial simulated plot by plot, beside what was measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.trials.trial_options import TRIAL_OPTIONS, TrialInputs, load_trial

if TYPE_CHECKING:
    from simulator.show.answer import Reply
    from simulator.show.output import Answer
    from simulator.trials.agreement import Agreement
    from simulator.units import System


@click.command("agree", short_help="Simulate the plots of a trial and say how well it agrees.")
@options.with_options(TRIAL_OPTIONS)
@CHART
@options.with_options(options.OUTPUT, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Simulate each plot of a trial and say how well it agrees with what was measured.

    Stands sampled twice tell of growth, plots with nitrogen beside plots without of the response to
    it: each is held against a constant, which a model must beat to be of use. Each plot has the
    band that 8 of 10 plots in fields that the model has not seen are to lie in.

    The plot table has a row a plot or treatment mean: site, latitude, sown, sampled and biomass,
    its unit in the header as in 'biomass (lb/acre)'; seeding, nitrogen_fall, nitrogen_spring,
    fertilizer, plots, biomass_sd, carbon_to_nitrogen, nitrogen_percent, growth_stage_zadoks,
    cereal, soil and previous_crop are used where they are given.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *, chart: Path | None, units: str | None, as_json: bool, out: Path | None, **asked: Any
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.agree import data as agree_data
    from simulator.answers.agree import table, words
    from simulator.commands.shared.reporting import spell_parameters, warn_of_long_table
    from simulator.show.answer import Reply
    from simulator.show.output import check_destination
    from simulator.trials.agreement import agree

    files = [asked["plots"], *(text.partition("=")[2].strip() for text in asked["weather"])]
    check_destination(out, inputs=files, called="one of the files read")
    check_chart(chart, files)
    trial = load_trial(**asked)
    found = agree(
        trial.plots,
        trial.records,
        site_soils=trial.site_soils,
        site_crops=trial.site_crops,
        cereal_sets=trial.cereals,
        error=options.model_errors().level,
    )
    system = options.shown_units(units or trial.plots.system, next(iter(trial.records.values())))
    answer = _answer(trial, found, system)
    if not as_json:
        warn_of_long_table(len(found.rows))

    def draw() -> Any:
        from simulator.answers.agree import chart as agreement_chart

        return agreement_chart.chart(
            agree_data.chart_rows(found),
            system,
            *words.headline(found, system),
            band=agree_data.band_rows(found),
        )

    return Reply(
        answer=spell_parameters(answer),
        draw=draw,
        lay_heading=lambda: words.heading(found),
        lay_tables=lambda: table.tables(found, system),
    )


def _answer(trial: TrialInputs, found: Agreement, system: System) -> Answer:
    """Word the answer."""
    from simulator.answers.agree import data as agree_data
    from simulator.answers.agree import words
    from simulator.show import cautions
    from simulator.show.output import Answer, grid_rows

    data = agree_data.dataset(found)
    changed, parameter_notes = options.parameters_used()
    return Answer(
        command="agree",
        version=__version__,
        line=options.command_line(),
        inputs={
            "plots": trial.plots.file,
            "weather": {site: str(one.attrs["source"]) for site, one in trial.records.items()},
            "soil": {site: one.name for site, one in trial.site_soils.items()},
            "previous_crop": {site: one.name for site, one in trial.site_crops.items()},
            **changed,
        },
        data=data,
        rows=grid_rows(data),
        left_out=found.left_out,
        notes=[*parameter_notes, *trial.notes, *found.notes],
        cautions=[
            cautions.invented(str(one.attrs["site"]))
            for one in trial.records.values()
            if one.attrs.get("invented") == "yes"
        ],
        sentences=words.sentences(found, system),
        more={"skill": agree_data.skill_json(found), **agree_data.more_json(found)},
    )
