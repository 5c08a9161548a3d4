"""Agreement as tables: skill by site, and plots one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.agree import contrasts
from simulator.answers.agree.data import SPELLED
from simulator.show import wording
from simulator.show.tables import Column, number, paragraph, plain_number, table
from simulator.trials.agreement import Agreement

if TYPE_CHECKING:
    from simulator.trials.skill import Skill


def falls(answer: Agreement) -> str:
    """Name the falls of the rows."""
    return wording.falls(sorted(int(year) for year in set(answer.rows["year"])))


def tables(answer: Agreement, system: units.System) -> list[str]:
    """Print the skill, growth and responses, what else was measured, and every row."""
    laid = [_skill_table(answer, system)]
    differences = contrasts.differences_table(answer, system)
    laid += [differences] if differences else []
    others = answer.others()
    if others:
        laid.append(_others_table(others))
    return [*laid, _rows_table(answer, system)]


def _skill_table(answer: Agreement, system: units.System) -> str:
    mass = units.label("mass", system)
    columns = [
        Column("biomass", left=True),
        Column("rows"),
        Column("observed\nmean", mass),
        Column("bias", mass),
        Column("RMSE", mass),
        Column("RMSE\nof mean", "%"),
        Column("agree-\nment"),
        Column("Nash-\nSutcl."),
        Column("Kling-\nGupta"),
        Column("plots'\nSD", mass),
        Column("means'\nSE", mass),
    ]
    groups = {"all": answer.skill()}
    for column in ("site", "year"):
        found = answer.by(column)
        if len(found) > 1:
            groups |= {
                f"fall {key}" if column == "year" else key: one for key, one in found.items()
            }
    groups |= contrasts.groups(answer, system)
    rows = [
        [
            name,
            str(one.n),
            number(one.mean_observed, "mass", system),
            number(one.bias, "mass", system, sign=True),
            number(one.rmse, "mass", system),
            plain_number(100.0 * one.nrmse),
            *_scores(one),
            number(one.plot_sd, "mass", system),
            number(one.mean_se, "mass", system),
        ]
        for name, one in groups.items()
    ]
    meaning = (
        "Bias is simulated less observed; RMSE the root mean square error. Index of agreement "
        "(Willmott 1981), Nash-Sutcliffe (1970) and Kling-Gupta (2009) efficiency are 1 for a "
        "perfect model; Nash-Sutcliffe is 0 for one no better than the observed mean. The plots' "
        "SD is the root mean square of the standard deviations among plots of a treatment: what "
        "a perfect model would miss single plots by; the means' SE (SD over the root of the "
        "number of plots) is what it would miss these means by."
    )
    return f"{table(columns, rows)}\n\n{paragraph(meaning)}"


def _scores(one: Skill) -> list[str]:
    return [
        plain_number(score, 2)
        for score in (one.index_of_agreement, one.nash_sutcliffe, one.kling_gupta)
    ]


def _others_table(others: dict[str, Skill]) -> str:
    columns = [
        Column("also measured", left=True),
        Column("unit", left=True),
        Column("rows"),
        Column("observed\nmean"),
        Column("bias"),
        Column("RMSE"),
        Column("agree-\nment"),
        Column("Nash-\nSutcl."),
        Column("Kling-\nGupta"),
    ]
    rows = []
    for name, one in others.items():
        spelled, unit, digits = SPELLED[name]
        bias = plain_number(one.bias, digits)
        rows.append(
            [
                spelled,
                unit,
                str(one.n),
                plain_number(one.mean_observed, digits),
                f"+{bias}" if one.bias > 0 else bias,
                plain_number(one.rmse, digits),
                *_scores(one),
            ]
        )
    return table(columns, rows)


def _rows_table(answer: Agreement, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column(answer.plots.row_word),
        Column("site", left=True),
        Column("sown", left=True),
        Column("sampled", left=True),
        Column("N fall", nitrogen),
        Column("N spring", nitrogen),
        Column("observed", mass),
        Column("plots'\nSD", mass),
        Column("simulated", mass),
        Column("differ-\nence", mass),
    ]
    rows = [
        [
            str(row.line),
            row.site,
            f"{row.sown:%Y-%m-%d}",
            f"{row.sampled:%Y-%m-%d}",
            number(row.nitrogen_fall_kg_ha, "nitrogen", system),
            number(row.nitrogen_spring_kg_ha, "nitrogen", system),
            number(row.biomass_kg_ha, "mass", system),
            number(row.biomass_sd_kg_ha, "mass", system),
            number(row.simulated_biomass_kg_ha, "mass", system),
            number(row.residual_kg_ha, "mass", system, sign=True),
        ]
        for row in answer.rows.itertuples()
    ]
    return table(columns, rows)
