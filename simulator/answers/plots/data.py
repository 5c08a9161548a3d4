"""What plots say, as rows for files and JSON, always SI."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.plots.calculate import Averaged, Curve, Found
from simulator.answers.plots.table import term_name
from simulator.show.output import plain
from simulator.trials.analysis.factors import NITROGEN, SEEDING, SOWN, TIMING, Factor
from simulator.trials.analysis.means import Difference, single_environment

if TYPE_CHECKING:
    import xarray as xr

FIELDS = {  # treatment -> field, unit, meaning
    SOWN: ("sow", "", "sowing date, month-day"),
    SEEDING: ("seeding_kg_ha", "kg/ha", "seeding rate"),
    NITROGEN: ("nitrogen_kg_ha", "kg/ha", "nitrogen rate"),
    TIMING: ("nitrogen_timing", "", "when the nitrogen goes on"),
}


def dataset(found: Found) -> xr.Dataset:
    """Lay out the mean of each combination of treatments in each site-year."""
    import xarray as xr

    layout = found.layout
    rows: list[dict[str, Any]] = []
    for env in found.analysis.which:
        site, year = layout.envs[env]
        own = single_environment(found.analysis, env)
        for levels, mean, plots in own.level_means(range(len(layout.factors))):
            rows.append(
                {
                    "site": site,
                    "year": year,
                    **{
                        _field(f): f.levels[at]
                        for f, at in zip(layout.factors, levels, strict=True)
                    },
                    "plots": plots,
                    "biomass_kg_ha": mean.value,
                    "standard_error_kg_ha": mean.error,
                    "low_kg_ha": mean.low,
                    "high_kg_ha": mean.high,
                }
            )
    about = {
        "site": ("", "name of the place"),
        "year": ("1", "fall year, in which the stand is sown"),
        **{_field(f): _about(f) for f in layout.factors},
        "plots": ("1", "plots behind the mean"),
        "biomass_kg_ha": ("kg/ha", "mean biomass, adjusted for missing plots"),
        "standard_error_kg_ha": ("kg/ha", "standard error for comparing means of a year"),
        "low_kg_ha": ("kg/ha", "lower end of the 95 % interval of the mean"),
        "high_kg_ha": ("kg/ha", "upper end of the 95 % interval of the mean"),
    }
    return xr.Dataset(
        {
            name: (
                "row",
                _column([row[name] for row in rows]),
                {"long_name": meaning} | ({"units": unit} if unit else {}),
            )
            for name, (unit, meaning) in about.items()
        },
        {"row": ("row", np.arange(1, len(rows) + 1), {"long_name": "number of the mean"})},
    )


def _column(values: list[Any]) -> np.ndarray:
    return np.array(values, dtype=object if isinstance(values[0], str) else None)


def _field(factor: Factor) -> str:
    if factor.name in FIELDS:
        return FIELDS[factor.name][0]
    return "_".join(factor.name.split())


def _about(factor: Factor) -> tuple[str, str]:
    return FIELDS[factor.name][1:] if factor.name in FIELDS else ("", f"treatment: {factor.name}")


def more_json(found: Found) -> dict[str, Any]:
    """Return what JSON carries beside the rows."""
    layout = found.layout
    return {
        "model": {
            "method": found.method,
            "seasons": found.analysis.seasons,
            "blocks": layout.has_blocks,
            "whole_plots": list(layout.whole_factors) if layout.has_whole else None,
        },
        "treatments": [_treatment(found, one) for one in found.averaged],
        "analysis_of_variance": [
            {
                "term": term_name(one),
                "stratum": one.stratum,
                "df": one.df,
                "mean_square": _number(one.mean_square),
                "f": _number(one.f),
                "error_df": _number(one.error_df),
                "p": _number(one.p),
            }
            for one in found.analysis.terms
        ],
        "responses": [_curve(found, one) for one in found.curves],
        "years": [
            {
                "site": layout.envs[one.env][0],
                "year": layout.envs[one.env][1],
                "in": one.what,
                "value_kg_ha": _number(one.value),
                "others_kg_ha": _number(one.others),
                "standard_errors_off": _number(one.off),
                "odd": one.odd,
            }
            for one in found.standings
        ],
        "ordinary": [
            {
                "site": one.site,
                "tried": one.tried,
                "falls": one.falls,
                "ranked": [asdict(r) for r in one.ranked],
                "blend": None
                if one.blend is None
                else {name: _number(value) for name, value in asdict(one.blend).items()},
            }
            for one in found.ordinary
        ],
    }


def _treatment(found: Found, one: Averaged) -> dict[str, Any]:
    factor = found.layout.factors[one.place]
    return {
        "treatment": factor.name,
        "high": plain(factor.levels[one.high]),
        "low": plain(factor.levels[one.low]),
        **_difference(one.difference),
        "p": _number(one.p),
        "may_be_averaged": one.may_be,
        "means": [
            {
                "level": plain(factor.levels[levels[0]]),
                "mean_kg_ha": _number(mean.value),
                "standard_error_kg_ha": _number(mean.error),
                "plots": plots,
            }
            for levels, mean, plots in found.analysis.level_means([one.place])
        ],
    }


def _difference(one: Difference) -> dict[str, Any]:
    return {
        "difference_kg_ha": _number(one.value),
        "standard_error_kg_ha": _number(one.error),
        "low_kg_ha": _number(one.low),
        "high_kg_ha": _number(one.high),
    }


def _curve(found: Found, one: Curve) -> dict[str, Any]:
    layout, choice = found.layout, one.choice
    best = choice.best
    where = None if one.env < 0 else dict(zip(("site", "year"), layout.envs[one.env], strict=True))
    return {
        "where": where,
        "sow": None if one.sown < 0 else layout.factors[layout.factor(SOWN)].levels[one.sown],
        "nitrogen_timing": None
        if one.timing < 0
        else layout.factors[layout.factor(TIMING)].levels[one.timing],
        "rates_kg_ha": choice.points.rates.tolist(),
        "means_kg_ha": choice.points.means.tolist(),
        "form": None if best is None else best.form,
        "base_kg_ha": None if best is None else _number(best.base),
        "slope": None if best is None else _number(best.slope),
        "bend": None if best is None else _number(best.bend),
        "weights": choice.weights,
        **{f"highest_rate_{name}": value for name, value in _difference(one.gain).items()},
        "rate_that_pays_kg_ha": _number(choice.rate),
        "rate_low_kg_ha": _number(choice.low),
        "rate_high_kg_ha": _number(choice.high),
    }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
