"""Is this weather? Days out of order, values no station has seen, wrong units, stuck readings."""

from __future__ import annotations

import numpy as np

from simulator.problems import Problem
from simulator.weather.files.daily import UNKNOWN, Daily
from simulator.weather.files.dates import outside_years
from simulator.weather.files.quality.dates import (
    check_absent_days,
    check_blanks,
    check_order,
    check_years,
)
from simulator.weather.files.quality.series import (
    check_season_means,
    check_stuck,
    check_yearly_rain,
)
from simulator.weather.files.quality.values import check_limits, check_sunlight, check_tmax_tmin
from simulator.weather.record import NAMES


def check_quality(daily: Daily, latitude: float | None) -> Daily:
    """Add problems and doubts to what was read, and put its days in order.

    Parameters
    ----------
    daily : Daily
        As read; its lists of problems and doubts grow.
    latitude : float or None
        [degrees north], for what is too warm or too cold there.

    Returns
    -------
    Daily
        Days that have a date, in order, the first of each; it shares the lists.
    """
    good = {
        name: check_limits(daily, name)
        for name in NAMES
        if name in daily.columns and daily.columns[name].unit not in ("", UNKNOWN)
    }
    if "radiation" in daily.columns and daily.columns["radiation"].unit != UNKNOWN:
        check_sunlight(daily, latitude)
    if {"tmax", "tmin"} <= good.keys():
        check_tmax_tmin(daily, good["tmax"] & good["tmin"])
    outside = outside_years(daily.dates)
    check_years(daily, np.flatnonzero(outside))
    dated = np.flatnonzero(~np.isnat(daily.dates) & ~outside)
    if dated.size == 0:
        if not daily.problems:
            daily.problems.append(Problem(daily.file, "It has no day that can be read."))
        return daily.kept(dated)
    check_order(daily.kept(dated))
    kept = dated[np.unique(daily.dates[dated], return_index=True)[1]]
    daily = daily.kept(kept)
    good = {name: mask[kept] for name, mask in good.items()}
    check_absent_days(daily)
    check_blanks(daily)
    for name, mask in good.items():
        if name == "rain":
            check_yearly_rain(daily, mask)
        else:
            check_season_means(daily, name, mask, latitude)
    check_stuck(daily, good)
    return daily
