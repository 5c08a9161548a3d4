"""Tmax and Tmin of a record, as wet and dry days and the day before have them.

References
----------
Richardson CW (1981) Stochastic simulation of daily precipitation, temperature, and solar
radiation. Water Resour. Res. 17:182-190.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import fault
from simulator.weather.generator.daily import MONTH_OF_DAY, daily_curve
from simulator.weather.generator.monthly import by_month, filled_round, smooth_year, variance

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_SPREAD = 0.1  # degC; less is not a temperature that was measured
FEWEST_OF_A_KIND = 10  # wet, or dry, days of a month from which its own spread is taken
MOST_SKEW = 0.8  # beyond it `skewed` is no longer near
# A season's own warmth may take at most this share of the variance of days.
MOST_OF_SEASON = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureFit:
    """Month values of Tmax and Tmin over all days of all years; arrays (2, 12) or (12, 2, 2).

    Parameters
    ----------
    mean, wet_minus_dry : ndarray, shape (2, 12)
        [degC].
    sd_dry, sd_wet : ndarray, shape (2, 12)
        About the mean of the day's time of year and kind [degC].
    skew : ndarray, shape (2, 12)
        Of what is left.
    same_day, day_before : ndarray, shape (12, 2, 2)
        Correlations of what is left, within a day and with the day before.
    """

    mean: NDArray[np.float64]
    wet_minus_dry: NDArray[np.float64]
    sd_dry: NDArray[np.float64]
    sd_wet: NDArray[np.float64]
    skew: NDArray[np.float64]
    same_day: NDArray[np.float64]
    day_before: NDArray[np.float64]

    @property
    def of_days(self) -> NDArray[np.float64]:
        """Variance of days, dry and wet alike, of whichever of Tmax and Tmin varies less; (12,)."""
        least: NDArray[np.float64] = (0.5 * (self.sd_dry**2 + self.sd_wet**2)).min(axis=0)
        return least

    def within_season(self, season: NDArray[np.float64]) -> dict[str, Any]:
        """Take a season's own warmth, which all its days share, off what days differ by.

        Parameters
        ----------
        season : ndarray, shape (12,)
            Standard deviation of a season's temperature [degC].

        Returns
        -------
        dict
            What `DailyClimate` needs of temperatures.
        """
        overall = 0.5 * (self.sd_dry**2 + self.sd_wet**2)
        share = np.minimum(season**2, MOST_OF_SEASON * self.of_days) / overall
        left = np.sqrt(1.0 - share)
        # covariance of the standardised residuals that the shared warmth makes by itself
        shared = np.einsum("im,jm->mij", np.sqrt(share), np.sqrt(share))
        scale = np.einsum("im,jm->mij", left, left)
        same_day = (self.same_day - shared) / scale
        day_before = (self.day_before - shared) / scale
        pairs = [possible(*pair) for pair in zip(same_day, day_before, strict=True)]
        skew = np.clip(self.skew / left**3, -MOST_SKEW, MOST_SKEW)

        def daily(months: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.array([daily_curve(tuple(row)) for row in months])

        return {
            "mean": daily(self.mean),
            "wet_minus_dry": daily(self.wet_minus_dry),
            "sd_dry": np.maximum(daily(self.sd_dry * left), LEAST_SPREAD),
            "sd_wet": np.maximum(daily(self.sd_wet * left), LEAST_SPREAD),
            "skew": daily(skew),
            "same_day": np.array([pair[0] for pair in pairs]),
            "day_before": np.array([pair[1] for pair in pairs]),
            "temperature": np.maximum(daily_curve(tuple(season)), 0.0),
        }


def possible(
    same_day: NDArray[np.float64], day_before: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Bring measured correlations to some that a series can have, as near as shrinking gets."""
    cross = float(np.clip(same_day[0, 1], -0.95, 0.95))
    same = np.array([[1.0, cross], [cross, 1.0]])
    before = np.clip(day_before, -0.97, 0.97)
    while np.linalg.eigvalsh(same - before @ np.linalg.inv(same) @ before.T).min() < 0.01:
        before = before * 0.98
    return same, before


def fit_temperatures(
    year: NDArray[np.int64],
    day_of_year: NDArray[np.int64],
    wet: NDArray[np.float64],
    pair: NDArray[np.float64],
    wet_part: NDArray[np.float64],
    known: NDArray[np.bool_],
    *,
    smoothed: bool = False,
) -> TemperatureFit:
    """Fit Tmax and Tmin.

    Parameters
    ----------
    year, day_of_year : ndarray of int, shape (days,)
        Year from 0; day 0 to 364.
    wet : ndarray, shape (days,)
        1 wet, 0 dry, NaN missing.
    pair : ndarray, shape (2, days)
        Tmax and Tmin [degC], NaN where missing.
    wet_part : ndarray, shape (365,)
        Long-run fraction of wet days.
    known : ndarray of bool, shape (12,)
        Months to fit; the others are filled between them.
    smoothed : bool
        Whether month means are drawn towards a smooth year, or kept.

    Raises
    ------
    InputError
        A temperature that does not vary.
    """
    month = MONTH_OF_DAY[day_of_year]
    parts = []
    left_over = np.full(pair.shape, np.nan)
    for column, (name, values) in enumerate(zip(("tmax", "tmin"), pair, strict=True)):
        have = ~np.isnan(values) & ~np.isnan(wet)
        mean, difference = _means(year, month, values, wet, have, known, smoothed)
        middle = daily_curve(tuple(mean))[day_of_year] + daily_curve(tuple(difference))[
            day_of_year
        ] * (wet - wet_part[day_of_year])
        rest = values - middle
        spread = _spreads(month, rest, wet, have, known)
        if min(spread.min(), np.nanstd(rest)) < LEAST_SPREAD:
            raise fault(
                "weather",
                f"{name} hardly varies from day to day.",
                "Check its readings with 'fallsown check FILE'.",
            )
        left_over[column] = rest / np.where(wet == 1, spread[1][month], spread[0][month])
        parts.append((mean, difference, *spread))
    same_day, day_before, skew = _correlations(month, left_over, known)
    mean, difference, dry, wet_sd = (np.array(values) for values in zip(*parts, strict=True))
    return TemperatureFit(
        mean=mean,
        wet_minus_dry=difference,
        sd_dry=dry,
        sd_wet=wet_sd,
        skew=skew,
        same_day=same_day,
        day_before=day_before,
    )


def _means(
    year: NDArray[np.int64],
    month: NDArray[np.int64],
    values: NDArray[np.float64],
    wet: NDArray[np.float64],
    have: NDArray[np.bool_],
    known: NDArray[np.bool_],
    smoothed: bool,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean over all days, smoothed or kept, and wet days less dry, smoothed over the year."""
    mean, difference = np.full(12, np.nan), np.full(12, np.nan)
    spread, years, of_difference = np.ones(12), np.ones(12), np.ones(12)
    for one in np.flatnonzero(known):
        here = have & (month == one)
        dry_days, wet_days = values[here & (wet == 0)], values[here & (wet == 1)]
        mean[one], spread[one] = values[here].mean(), values[here].std()
        years[one] = max(here.sum() / 30.0, 1.0)
        if min(dry_days.size, wet_days.size) >= FEWEST_OF_A_KIND:
            difference[one] = wet_days.mean() - dry_days.mean()
            of_difference[one] = spread[one] * np.sqrt(1 / dry_days.size + 1 / wet_days.size)
    if np.isnan(difference).all():
        difference[:] = 0.0
    # of few years a month's own difference between them says nothing: that of all months together
    yearly = variance(by_month(year, month, np.where(have, values, np.nan)))
    seen = known & np.isfinite(yearly)
    share = yearly[seen].sum() / max((spread[seen] ** 2).sum(), 1e-9) if seen.any() else 0.25
    error = np.maximum(spread * np.sqrt(share / years), 1e-3)
    of_difference = np.maximum(of_difference, 1e-3)
    of_month = smooth_year(mean, error) if smoothed else filled_round(mean)
    return of_month, smooth_year(difference, of_difference)


def _spreads(
    month: NDArray[np.int64],
    rest: NDArray[np.float64],
    wet: NDArray[np.float64],
    have: NDArray[np.bool_],
    known: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Return the standard deviation of dry and of wet days, smoothed over the year; (2, 12)."""
    found = np.full((2, 12), np.nan)
    error = np.ones((2, 12))
    for one in np.flatnonzero(known):
        here = have & (month == one)
        for kind in (0, 1):
            days = rest[here & (wet == kind)]
            # few wet days in a dry month: they are taken to differ as all its days do
            days = days if days.size >= FEWEST_OF_A_KIND else rest[here]
            found[kind, one] = np.log(max(float(np.sqrt((days**2).mean())), 1e-6))
            # a third of the days counts: the others follow from the day before
            error[kind, one] = 1.0 / np.sqrt(2.0 * max(days.size / 3.0, 1.0))
    return np.exp([smooth_year(found[kind], error[kind]) for kind in (0, 1)])


def _correlations(
    month: NDArray[np.int64], left_over: NDArray[np.float64], known: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """M0 and M1 of each month with its two neighbours, and the skewness."""
    same_day, day_before = np.full((12, 2, 2), np.nan), np.full((12, 2, 2), np.nan)
    skew = np.full((2, 12), np.nan)
    before = np.concatenate([np.full((2, 1), np.nan), left_over[:, :-1]], axis=1)
    both = ~np.isnan(left_over).any(axis=0)
    after = both & ~np.isnan(before).any(axis=0)
    for one in np.flatnonzero(known):
        near = (month - one) % 12
        window = (near <= 1) | (near == 11)
        today, pairs = left_over[:, window & both], window & after
        size = np.sqrt((today**2).mean(axis=1))
        same_day[one] = today @ today.T / today.shape[1] / np.outer(size, size)
        day_before[one] = (
            left_over[:, pairs] @ before[:, pairs].T / pairs.sum() / np.outer(size, size)
        )
        skew[:, one] = (today**3).mean(axis=1) / size**3
    for array in (same_day, day_before):
        for row in (0, 1):
            for column in (0, 1):
                array[:, row, column] = filled_round(array[:, row, column])
    return same_day, day_before, np.array([filled_round(row) for row in skew])
