"""Outlooks of past seasons, judged by what came of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.outlook.remainders import Values
from simulator.answers.shared.few_falls import band, crps, wilson

if TYPE_CHECKING:
    import xarray as xr


def judge(
    years: Sequence[int], ends: Sequence[str], dates: Sequence[str], made: Values, happened: Values
) -> xr.Dataset:
    """Judge outlooks of past seasons by what came of them.

    Parameters
    ----------
    years : sequence of int
    ends, dates : sequence of str
        Ends of the stand; days up to which the weather was taken as known.
    made : array (year, date, other, end)
        Biomass of the outlooks [kg/ha]; others in the order of years, the year itself left out.
    happened : array (year, end)
        Biomass with the weather that the year had [kg/ha].

    Returns
    -------
    Dataset(date, end)
        ``width_kg_ha`` of the bands and ``usual_width_kg_ha`` of those of the other years as they
        were, both means; ``inside_percent`` with its Wilson interval; ``crps_kg_ha`` and
        ``usual_crps_kg_ha``; ``skill_percent``, by which the first is smaller; ``seasons``.
    """
    import xarray as xr

    n = len(years)
    low, _, high = band(made, axis=2)
    truth = happened[:, None, :]
    inside = ((truth >= low) & (truth <= high)).mean(axis=0)
    members = made.transpose(0, 1, 3, 2)
    score = crps(members, np.broadcast_to(truth, members.shape[:-1])).mean(axis=0)
    without = np.stack([np.delete(happened, place, axis=0) for place in range(n)])
    usual_low, _, usual_high = band(without, axis=1)
    usual_score = crps(without.transpose(0, 2, 1), happened).mean(axis=0)
    ends_of = np.array([[wilson(share, n) for share in row] for row in inside])
    shape = inside.shape
    with np.errstate(invalid="ignore", divide="ignore"):
        skill = np.where(usual_score > 0, 100 * (1 - score / usual_score), np.nan)
    columns: dict[str, tuple[Values, str, str]] = {
        "seasons": (np.full(shape, n), "1", "past seasons tried"),
        "width_kg_ha": ((high - low).mean(axis=0), "kg/ha", "mean width of the bands"),
        "usual_width_kg_ha": (
            np.broadcast_to((usual_high - usual_low).mean(axis=0), shape),
            "kg/ha",
            "the same of the other years as they were",
        ),
        "inside_percent": (100 * inside, "percent", "share of seasons inside their band"),
        "inside_low_percent": (100 * ends_of[..., 0], "percent", "lower end of its interval"),
        "inside_high_percent": (100 * ends_of[..., 1], "percent", "upper end of its interval"),
        "crps_kg_ha": (score, "kg/ha", "continuous ranked probability score"),
        "usual_crps_kg_ha": (
            np.broadcast_to(usual_score, shape),
            "kg/ha",
            "the same of the other years as they were",
        ),
        "skill_percent": (skill, "percent", "by how much the score is better than the usual's"),
    }
    return xr.Dataset(
        {
            name: (("date", "end"), values, {"units": unit, "long_name": meaning})
            for name, (values, unit, meaning) in columns.items()
        },
        coords={"date": list(dates), "end": list(ends)},
    )
