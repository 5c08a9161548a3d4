"""What a planned trial can show, as rows for files and JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.design.calculate import Design
from simulator.answers.design.field import Field, rows
from simulator.trials.design.layout import treatments
from simulator.trials.design.testing import Chance
from simulator.trials.design.trial import pairs

if TYPE_CHECKING:
    import xarray as xr

_COLUMNS = {
    "chance_percent": ("percent", "share of trials that see the difference asked about"),
    "interval_kg_ha": ("kg/ha", "half the width of the 95 % interval of a difference, mean"),
    "smallest_kg_ha": ("kg/ha", "difference that 8 of 10 trials see"),
    "wrong_best_percent": ("percent", "share of trials in which another level looks best"),
    "wrong_by_percent": (
        "percent",
        "share in which that level is worse by the difference asked about, or more",
    ),
}


def dataset(design: Design) -> xr.Dataset:
    """Return the chances by what is compared, blocks and years."""
    import xarray as xr

    blocks, years = design.question.designs()
    factors = design.trial.compared()
    shape = (len(factors), len(blocks), len(years))
    values = {name: np.full(shape, np.nan) for name in _COLUMNS}
    for one in design.chances:
        at = (factors.index(one.factor), blocks.index(one.blocks), years.index(one.years))
        for name, value in chance_fields(one).items():
            values[name][at] = value
    dims = ("compared", "blocks", "trial_years")
    data = xr.Dataset(
        {
            name: (dims, values[name], {"units": unit, "long_name": meaning})
            for name, (unit, meaning) in _COLUMNS.items()
        },
        coords={"compared": factors, "blocks": blocks, "trial_years": years},
        attrs=design.about,
    )
    for name, meaning in (
        ("compared", "what two treatments differ in"),
        ("blocks", "blocks of the trial"),
        ("trial_years", "years of the trial"),
    ):
        data[name].attrs["long_name"] = meaning
    return data


def chance_fields(one: Chance) -> dict[str, float]:
    """Return the numbers of a chance by the names of their columns."""
    return {
        "chance_percent": 100.0 * one.seen,
        "interval_kg_ha": one.reach,
        "smallest_kg_ha": one.smallest,
        "wrong_best_percent": 100.0 * one.wrong,
        "wrong_by_percent": 100.0 * one.wrong_by,
    }


def as_json(design: Design, field: Field | None) -> dict[str, Any]:
    """Return what else the JSON object has, in SI."""
    asked = design.question
    found: dict[str, Any] = {
        "design": {
            "difference_kg_ha": asked.difference,
            "blocks": asked.blocks,
            "trial_years": asked.years,
            "split_plot": asked.whole_plot is not None,
            "plot_spread": asdict(asked.spread),
            "whole_plot_spread": None if asked.whole_plot is None else asdict(asked.whole_plot),
            "trials": asked.trials,
            "seed": asked.seed,
            "sow": design.plans["sow"],
            "seeding_kg_ha": design.plans["seeding"],
            "nitrogen_kg_ha": design.plans["nitrogen"],
            "nitrogen_timing": design.plans["nitrogen_timing"],
            "end": design.plans["end"],
            "treatments": design.trial.treatments,
            "falls": design.falls,
        },
        "if_model_right": _by_factor(design.if_right),
        "if_years_alike": _by_factor(design.if_alike),
        "model_differences": _differences(design),
        "misleading_falls": [asdict(one) for one in design.misled],
        "hidden_response": None if design.hidden is None else asdict(design.hidden),
    }
    if design.uses:
        found["uses_of_budget"] = [
            {
                "compared": one.chance.factor,
                "left_out": one.left_out,
                "treatments": one.treatments,
                "blocks": one.chance.blocks,
                "trial_years": one.chance.years,
                "plots": one.plots,
                **chance_fields(one.chance),
            }
            for one in design.uses
        ]
    if field is not None:
        names = treatments(design.trial.levels)
        found["treatments"] = [
            {
                "treatment": at,
                "sow": design.plans["sow"][sow],
                "seeding_kg_ha": design.plans["seeding"][seeding],
                "nitrogen_kg_ha": design.plans["nitrogen"][nitrogen],
            }
            for at, (sow, seeding, nitrogen) in enumerate(names, start=1)
        ]
        found["layout"] = rows(field, "si")
    return found


def _by_factor(chances: list[Chance]) -> list[dict[str, Any]]:
    return [{"compared": one.factor, **chance_fields(one)} for one in chances]


def _differences(design: Design) -> list[dict[str, Any]]:
    found = []
    for factor in design.trial.asked():
        means = design.trial.means(factor).mean(axis=0)
        for (first, second), seen in zip(
            pairs(factor, len(means)), design.asked(factor).seen_by_pair, strict=True
        ):
            found.append(
                {
                    "compared": factor,
                    "first": design.plans[factor][first],
                    "second": design.plans[factor][second],
                    "difference_kg_ha": float(means[second] - means[first]),
                    "chance_percent": 100.0 * seen,
                }
            )
    return found
