"""Agreement as rows, for files, JSON and the chart."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.agree import contrasts
from simulator.show.output import plain
from simulator.trials.agreement import FIELD_BAND, OTHERS, SIMULATED, Agreement
from simulator.trials.contrasts import nitrogen_given
from simulator.weather.change_text import MONTHS

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from simulator.trials.skill import Skill

Columns = dict[str, tuple[Any, str, str]]  # values, unit, meaning
BAND_POINTS = 61  # of the band that the chart draws
# measured beside the biomass: name, unit, digits
SPELLED = {
    "nitrogen_percent": ("plant nitrogen", "%", 2),
    "carbon_to_nitrogen": ("C:N", "", 0),
    "growth_stage_zadoks": ("growth stage", "Zadoks", 0),
}


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


def band_rows(answer: Agreement) -> list[dict[str, float]]:
    """Return the band of a field that the model has not seen, as the chart draws it."""
    spread = answer.rows["biomass_kg_ha"] + answer.rows["biomass_sd_kg_ha"].fillna(0.0)
    most = max(float(spread.max()), float(answer.rows["simulated_biomass_kg_ha"].max()))
    made = np.linspace(0.0, 1.5 * most, BAND_POINTS)  # beyond the axis, which cuts it off
    low, high = answer.error.band(made, FIELD_BAND)
    return [
        {"simulated_kg_ha": float(a), "field_low_kg_ha": float(b), "field_high_kg_ha": float(c)}
        for a, b, c in zip(made, low, high, strict=True)
    ]


def dataset(answer: Agreement) -> xr.Dataset:
    """Lay the rows out for files and JSON: the fields of every command, and what was observed."""
    import xarray as xr

    from simulator.season.day.record import RECORD

    rows = answer.rows
    known = {name: (unit, meaning) for name, unit, meaning in RECORD}
    fed = nitrogen_given(rows)
    columns: Columns = {
        "site": (_words(rows["site"]), "", "name of the place"),
        "year": (rows["year"].to_numpy(), "1", "fall year, in which the stand is sown"),
        "cereal": (_words(rows["cereal"]), "", "cereal"),
        "soil": (_words(rows["soil"]), "", "soil texture"),
        "previous_crop": (_words(rows["previous_crop"]), "", "crop before"),
        "fertilizer": (_words(rows["fertilizer"]), "", "kind of nitrogen"),
        "sow": (_words(rows["sown"].dt.strftime("%m-%d")), "", "sowing date, month-day"),
        "seeding_kg_ha": (rows["seeding_kg_ha"].to_numpy(), "kg/ha", "seeding rate"),
        "nitrogen_kg_ha": (fed.to_numpy(), "kg/ha", "nitrogen rate"),
        "nitrogen_timing": (
            _words(_timing(row) for row in rows.itertuples()),
            "",
            "when the nitrogen goes on",
        ),
        "end": (_words(rows["sampled"].dt.strftime("%m-%d")), "", "day of sampling, month-day"),
        "case": (_words(["as recorded"] * len(rows)), "", "weather as recorded or changed"),
        **{name: (rows[f"simulated_{name}"].to_numpy(), *known[name]) for name in SIMULATED},
        **_beside_measured(rows, known),
        **contrasts.of_rows(answer),
    }
    if (measured := rows["mineral_nitrogen_at_sowing_kg_ha"]).notna().any():
        columns["mineral_nitrogen_at_sowing_kg_ha"] = (
            measured.to_numpy(),
            "kg/ha",
            "mineral nitrogen measured in the soil at sowing",
        )
    return xr.Dataset(
        {
            name: (
                "line",
                values,
                {"units": unit, "long_name": meaning} if unit else {"long_name": meaning},
            )
            for name, (values, unit, meaning) in columns.items()
        },
        {"line": rows["line"].to_numpy()},
    )


def _beside_measured(rows: pd.DataFrame, known: Mapping[str, tuple[str, str]]) -> Columns:
    """Return what was measured, and the biomass simulated beside it."""
    return {
        "observed_kg_ha": (rows["biomass_kg_ha"].to_numpy(), "kg/ha", "observed biomass"),
        "observed_sd_kg_ha": (
            rows["biomass_sd_kg_ha"].to_numpy(),
            "kg/ha",
            "standard deviation among plots",
        ),
        "plots": (rows["plots"].to_numpy(), "1", "plots behind the observed mean"),
        "simulated_kg_ha": (
            rows["simulated_biomass_kg_ha"].to_numpy(),
            "kg/ha",
            "simulated biomass",
        ),
        "residual_kg_ha": (
            rows["residual_kg_ha"].to_numpy(),
            "kg/ha",
            "simulated less observed biomass",
        ),
        **{
            f"field_{end}_kg_ha": (
                rows[f"field_{end}_kg_ha"].to_numpy(),
                "kg/ha",
                f"{which} end of the {100 * FIELD_BAND:.0f} % band of a plot's biomass in a field "
                "that the model has not seen",
            )
            for end, which in (("low", "lower"), ("high", "upper"))
        },
        **{
            f"observed_{name}": (
                rows[name].to_numpy(),
                known[name][0],
                f"observed {SPELLED[name][0]}",
            )
            for name in OTHERS
            if rows[name].notna().any()
        },
    }


def _words(texts: Any) -> Any:
    return np.array([str(text) for text in texts], dtype=object)


def _timing(row: Any) -> str:
    """Write when nitrogen went on as `season.plan.dressings` reads it, in shares of it all."""
    fed = [
        ("sowing" if when == row.sown else f"{when:%m-%d}", rate)
        for when, rate in (
            (row.fall_nitrogen_date, row.nitrogen_fall_kg_ha),
            (row.spring_nitrogen_date, row.nitrogen_spring_kg_ha),
        )
        if rate > 0
    ]
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
        of a class of nitrogen; ``field_band``: ``promised``, a share, ``n`` rows and how many of
        them are ``inside``, and how far off the model was elsewhere.
    """
    inside, known = answer.inside()
    return {
        "field_band": {
            "promised": FIELD_BAND,
            "n": known,
            "inside": inside,
            "unseen_site_seasons": int(answer.error.seasons),
            "unseen_rmse_kg_ha": answer.error.rmse,
        },
        **contrasts.contrast_json(answer),
        "by_month": {
            MONTHS[month - 1]: _fields(one, "_kg_ha") for month, one in answer.by_month().items()
        },
        "by_nitrogen": {
            name: {
                "lowest_nitrogen_kg_ha": one.lowest,
                "highest_nitrogen_kg_ha": one.highest,
                **_fields(one.skill, "_kg_ha"),
            }
            for name, one in answer.by_nitrogen().items()
        },
    }


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
    return {
        "n": one.n,
        **{name: value if np.isfinite(value) else None for name, value in figures.items()},
    }
