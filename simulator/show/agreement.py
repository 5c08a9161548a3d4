"""Simulated beside observed, as people and as programs read it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.why import MONTHS
from simulator.show import agreement_contrasts as contrasts
from simulator.show.output import plain
from simulator.show.tables import Column, number, paragraph, plain_number, table
from simulator.trials.agreement import OTHERS, SIMULATED, Agreement
from simulator.trials.contrasts import nitrogen_given

if TYPE_CHECKING:
    import xarray as xr

    from simulator.trials.skill import Skill

LARGEST_NAMED = 3  # misses that a sentence names
LEANING = 0.25  # share of the squared error that is bias, from which on errors lean one way
# measured beside the biomass: name, unit, digits
_SPELLED = {"nitrogen_percent": ("plant nitrogen", "%", 2),
            "carbon_to_nitrogen": ("C:N", "", 0),
            "growth_stage_zadoks": ("growth stage", "Zadoks", 0)}  # fmt: skip


def heading(answer: Agreement) -> str:
    """Say what was simulated beside what."""
    rows = answer.rows
    kinds = wording.join(sorted(set(rows["cereal"])))
    grounds = [
        f"{site} on {some['soil'].iloc[0]} after {some['previous_crop'].iloc[0]}"
        for site, some in rows.groupby("site", sort=False)
    ]
    invented = " The data are invented." if answer.plots.invented else ""
    return paragraph(
        f"{kinds.capitalize()} in {_counted(len(rows), 'row')} of {answer.plots.file}, simulated "
        f"and measured: {wording.join(grounds)}; {falls(answer)}.{invented}"
    )


def falls(answer: Agreement) -> str:
    """Name the falls of the rows."""
    return wording.falls(sorted(int(year) for year in set(answer.rows["year"])))


def _counted(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


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
            groups |= {f"fall {key}" if column == "year" else key: one
                       for key, one in found.items()}  # fmt: skip
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
    columns = [Column("also measured", left=True), Column("unit", left=True), Column("rows"),
               Column("observed\nmean"), Column("bias"), Column("RMSE"), Column("agree-\nment"),
               Column("Nash-\nSutcl."), Column("Kling-\nGupta")]  # fmt: skip
    rows = []
    for name, one in others.items():
        spelled, unit, digits = _SPELLED[name]
        bias = plain_number(one.bias, digits)
        rows.append([spelled, unit, str(one.n), plain_number(one.mean_observed, digits),
                     f"+{bias}" if one.bias > 0 else bias, plain_number(one.rmse, digits),
                     *_scores(one)])  # fmt: skip
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


def sentences(answer: Agreement, system: units.System) -> list[str]:
    """Say what the numbers mean: how near, how one-sided, and where the largest misses are."""
    told = [*_nearness(answer.skill(), system), _leaning(answer, system)]
    told += [_by_group(answer, system)] if len(answer.by("site")) > 1 else []
    told += contrasts.sentences(answer, system)
    told += [_largest(answer, system)] if len(answer.rows) > LARGEST_NAMED else []
    for name, one in answer.others().items():
        spelled, unit, digits = _SPELLED[name]
        sign = " %" if unit == "%" else ""
        mean = f"{one.mean_observed:.{digits}f}{sign}"
        apart = f"{abs(one.bias):.{digits}f}"
        where = f"{apart}{' points' if sign else ''} {'above' if one.bias > 0 else 'below'}"
        where = where if float(apart) else "at"
        told.append(
            f"Mean simulated {spelled} lies {where} the mean observed, {mean} "
            f"({_counted(one.n, 'row')})."
        )
    return told


def _mass(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


def _nearness(one: Skill, system: units.System) -> list[str]:
    off = f"Simulated biomass is off by {_mass(one.rmse, system)} (RMSE)"
    if np.isfinite(one.nrmse):
        off += f", {100.0 * one.nrmse:.0f} % of the observed mean"
    told = []
    if not np.isfinite(one.plot_sd):
        told.append(f"{off}. The table gives no spread among plots to hold that against.")
    elif one.plot_sd == 0:
        told.append(f"{off}; plots treated alike do not differ at all in the table.")
    elif one.rmse <= one.plot_sd:
        told.append(f"{off}: within the plots' own spread of {_mass(one.plot_sd, system)}.")
    else:
        told.append(f"{off}: {one.rmse / one.plot_sd:.1f} times the plots' own spread of "
                    f"{_mass(one.plot_sd, system)}.")  # fmt: skip
    if np.isfinite(one.mean_se):
        told.append(f"Against these means even a perfect model would be off by about "
                    f"{_mass(one.mean_se, system)}.")  # fmt: skip
    if one.nash_sutcliffe < 0:
        told.append("The mean of what was observed would serve better than the simulation "
                    f"(Nash-Sutcliffe {one.nash_sutcliffe:.2f}).")  # fmt: skip
    return told


def _leaning(answer: Agreement, system: units.System) -> str:
    one = answer.skill()
    if one.rmse == 0:
        return "Simulated and observed are the same in every row."
    high = int((answer.rows["residual_kg_ha"] > 0).sum())
    share = (one.bias / one.rmse) ** 2
    side, count = ("much", high) if one.bias > 0 else ("little", one.n - high)
    leans = f"It gives too {side} in {count} of {_counted(one.n, 'row')}, by "
    leans += f"{_mass(abs(one.bias), system)} on average over all"
    if share >= LEANING:
        return f"{leans}: the errors lean one way ({100 * share:.0f} % of their square is bias)."
    return f"{leans}: the errors go both ways (only {100 * share:.0f} % of their square is bias)."


def _by_group(answer: Agreement, system: units.System) -> str:
    parts = [
        f"{abs_text} too {'much' if one.bias > 0 else 'little'} at {site}"
        for site, one in answer.by("site").items()
        for abs_text in [_mass(abs(one.bias), system)]
    ]
    return f"By site it gives {wording.join(parts)}, on average."


def _largest(answer: Agreement, system: units.System) -> str:
    rows = answer.rows
    order = rows["residual_kg_ha"].abs().sort_values(ascending=False).index[:LARGEST_NAMED]
    parts = [
        f"{answer.plots.row_word} {row.line} ({row.site}, fall {row.year}: "
        f"{number(row.simulated_biomass_kg_ha, 'mass', system)} simulated, "
        f"{number(row.biomass_kg_ha, 'mass', system)} observed)"
        for row in rows.loc[order].itertuples()
    ]
    return f"The largest misses [{units.label('mass', system)}] are {wording.join(parts)}."


def headline(answer: Agreement, system: units.System) -> tuple[list[str], list[str]]:
    """Say a chart's finding, and below it what the data are."""
    one = answer.skill()
    found = f"Simulated biomass is off by {_mass(one.rmse, system)}"
    if not np.isfinite(one.plot_sd):
        lines = [f"{found}, {100 * one.nrmse:.0f} % of the observed mean"]
    elif one.rmse <= one.plot_sd:
        lines = [f"{found},", f"within the plots' own spread of {_mass(one.plot_sd, system)}"]
    else:
        lines = [f"{found},", f"beyond the plots' own spread of {_mass(one.plot_sd, system)}"]
    kinds = wording.join(sorted(set(answer.rows["cereal"])))
    below = [f"{kinds.capitalize()}, {_counted(one.n, 'row')} of {answer.plots.file}, "
             f"{_counted(len(answer.by('site')), 'site')}, {falls(answer)}."]  # fmt: skip
    if answer.rows["biomass_sd_kg_ha"].notna().any():
        below.append("Bars: one standard deviation among plots. Dashed: simulated equals observed.")
    if max(answer.gains().n, answer.responses().n) >= contrasts.FEWEST_PAIRS:
        below.append("Growth: between samplings of a stand. Response: with nitrogen less without.")
    if answer.plots.invented:
        below.append("The data are invented.")
    return lines, below


def chart_rows(answer: Agreement) -> list[dict[str, Any]]:
    """Return what `agreement_chart.chart` draws."""
    fed = nitrogen_given(answer.rows)
    differences = contrasts.of_rows(answer)
    return [
        {
            "line": int(row.line),
            "site": row.site,
            "year": int(row.year),
            "sown": f"{row.sown:%Y-%m-%d}",
            "nitrogen_kg_ha": float(applied),
            "observed_kg_ha": float(row.biomass_kg_ha),
            "observed_sd_kg_ha": None
            if np.isnan(row.biomass_sd_kg_ha)
            else float(row.biomass_sd_kg_ha),
            "simulated_kg_ha": float(row.simulated_biomass_kg_ha),
            **{name: plain(values[at]) for name, (values, _, _) in differences.items()},
        }
        for at, (row, applied) in enumerate(zip(answer.rows.itertuples(), fed, strict=True))
    ]


def dataset(answer: Agreement) -> xr.Dataset:
    """Lay the rows out for files and JSON: the fields of every command, and what was observed."""
    import xarray as xr

    from simulator.season.day_record import RECORD

    rows = answer.rows
    known = {name: (unit, meaning) for name, unit, meaning in RECORD}
    fed = nitrogen_given(rows)
    columns: dict[str, tuple[Any, str, str]] = {
        "site": (_words(rows["site"]), "", "name of the place"),
        "year": (rows["year"].to_numpy(), "1", "fall year, in which the stand is sown"),
        "cereal": (_words(rows["cereal"]), "", "cereal"),
        "soil": (_words(rows["soil"]), "", "soil texture"),
        "previous_crop": (_words(rows["previous_crop"]), "", "crop before"),
        "fertilizer": (_words(rows["fertilizer"]), "", "kind of nitrogen"),
        "sow": (_words(rows["sown"].dt.strftime("%m-%d")), "", "sowing date, month-day"),
        "seeding_kg_ha": (rows["seeding_kg_ha"].to_numpy(), "kg/ha", "seeding rate"),
        "nitrogen_kg_ha": (fed.to_numpy(), "kg/ha", "nitrogen rate"),
        "nitrogen_timing": (_words(_timing(row) for row in rows.itertuples()), "",
                            "when the nitrogen goes on"),
        "end": (_words(rows["sampled"].dt.strftime("%m-%d")), "", "day of sampling, month-day"),
        "case": (_words(["as recorded"] * len(rows)), "", "weather as recorded or changed"),
        **{name: (rows[f"simulated_{name}"].to_numpy(), *known[name]) for name in SIMULATED},
        "observed_kg_ha": (rows["biomass_kg_ha"].to_numpy(), "kg/ha", "observed biomass"),
        "observed_sd_kg_ha": (rows["biomass_sd_kg_ha"].to_numpy(), "kg/ha",
                              "standard deviation among plots"),
        "plots": (rows["plots"].to_numpy(), "1", "plots behind the observed mean"),
        "simulated_kg_ha": (rows["simulated_biomass_kg_ha"].to_numpy(), "kg/ha",
                            "simulated biomass"),
        "residual_kg_ha": (rows["residual_kg_ha"].to_numpy(), "kg/ha",
                           "simulated less observed biomass"),
        **{f"observed_{name}": (rows[name].to_numpy(), known[name][0],
                                f"observed {_SPELLED[name][0]}")
           for name in OTHERS if rows[name].notna().any()},
        **contrasts.of_rows(answer),
    }  # fmt: skip
    if (measured := rows["mineral_nitrogen_at_sowing_kg_ha"]).notna().any():
        columns["mineral_nitrogen_at_sowing_kg_ha"] = (
            measured.to_numpy(), "kg/ha", "mineral nitrogen measured in the soil at sowing"
        )  # fmt: skip
    return xr.Dataset(
        {name: ("line", values, {"units": unit, "long_name": meaning} if unit
                else {"long_name": meaning})
         for name, (values, unit, meaning) in columns.items()},
        {"line": rows["line"].to_numpy()},
    )  # fmt: skip


def _words(texts: Any) -> Any:
    return np.array([str(text) for text in texts], dtype=object)


def _timing(row: Any) -> str:
    """Write when nitrogen went on as `season.plan.dressings` reads it, in shares of it all."""
    fed = [("sowing" if when == row.sown else f"{when:%m-%d}", rate) for when, rate in (
        (row.fall_nitrogen_date, row.nitrogen_fall_kg_ha),
        (row.spring_nitrogen_date, row.nitrogen_spring_kg_ha)) if rate > 0]  # fmt: skip
    if len(fed) < 2:
        return fed[0][0] if fed else "sowing"
    total = sum(rate for _, rate in fed)
    return " + ".join(f"{when} {100 * rate / total:.4g}%" for when, rate in fed)


def skill_json(answer: Agreement) -> dict[str, Any]:
    """Return the skill as JSON has it: over all, then under ``by_site`` and ``by_season``.

    Returns
    -------
    dict
        ``n, mean_observed_kg_ha, bias_kg_ha, rmse_kg_ha, nrmse, index_of_agreement, nse, kge,
        plot_sd_kg_ha, mean_se_kg_ha``, None where a statistic does not exist; the same under
        ``all`` and for each of ``by_site`` and ``by_season``; ``also`` holds what else was
        measured, in its own unit.
    """
    over_all = _fields(answer.skill(), "_kg_ha")
    return {
        **over_all,  # at the top too: who asks for one figure needs no further key
        "all": over_all,
        "by_site": {site: _fields(one, "_kg_ha") for site, one in answer.by("site").items()},
        "by_season": {year: _fields(one, "_kg_ha") for year, one in answer.by("year").items()},
        "also": {name: _fields(one, "") for name, one in answer.others().items()},
    }


def more_json(answer: Agreement) -> dict[str, Any]:
    """Return what JSON has beside the skill: growth, responses, and skill by month and nitrogen.

    Returns
    -------
    dict
        ``gains``, ``responses``: ``n, seasons, mean_observed_..., mean_simulated_..., bias_...,
        rmse_..., rmse_of_constant_..., correlation``, in ``kg_ha_day`` and ``kg_ha``;
        ``by_month`` and ``by_nitrogen``: as one of `skill_json`, with the lowest and highest rate
        of a class of nitrogen.
    """
    return {
        **contrasts.contrast_json(answer),
        "by_month": {MONTHS[month - 1]: _fields(one, "_kg_ha")
                     for month, one in answer.by_month().items()},
        "by_nitrogen": {
            name: {"lowest_nitrogen_kg_ha": one.lowest, "highest_nitrogen_kg_ha": one.highest,
                   **_fields(one.skill, "_kg_ha")}
            for name, one in answer.by_nitrogen().items()
        },
    }  # fmt: skip


def _fields(one: Skill, unit: str) -> dict[str, Any]:
    figures = {
        f"mean_observed{unit}": one.mean_observed,
        f"bias{unit}": one.bias,
        f"rmse{unit}": one.rmse,
        "nrmse": one.nrmse,
        "index_of_agreement": one.index_of_agreement,
        "nse": one.nash_sutcliffe,
        "kge": one.kling_gupta,
    }
    if unit:
        figures |= {f"plot_sd{unit}": one.plot_sd, f"mean_se{unit}": one.mean_se}
    return {"n": one.n, **{name: value if np.isfinite(value) else None
                           for name, value in figures.items()}}  # fmt: skip
