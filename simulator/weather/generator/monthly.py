"""Months of many years: their means, three of them running, and a smooth year through twelve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

ENOUGH = 0.9  # share of a month's days that must be known for it to count
MOST_HARMONICS = 4
FAR = 3.5  # standard errors; a month's value so far off the harmonics is kept as it is


def by_month(
    year: NDArray[np.int64], month: NDArray[np.int64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Average days over each month of each year.

    Parameters
    ----------
    year, month : ndarray of int, shape (days,)
        Year counted from 0; month 0 to 11.
    values : ndarray, shape (days,)
        NaN where missing.

    Returns
    -------
    ndarray, shape (years, 12)
        NaN where fewer than 9 days in 10 are known.
    """
    cell = year * 12 + month
    cells = (int(year.max()) + 1) * 12
    known = ~np.isnan(values)
    count = np.bincount(cell[known], minlength=cells)
    total = np.bincount(cell[known], values[known], minlength=cells)
    # of a month's own length, not of the days that the record has of it
    whole = np.tile([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], cells // 12)
    mean = np.where(count >= ENOUGH * whole, total / np.maximum(count, 1), np.nan)
    return mean.reshape(-1, 12)


def three_running(months: NDArray[np.float64]) -> NDArray[np.float64]:
    """Average each month with the one before and the one after; (years, 12) in and out."""
    flat = months.ravel()
    padded = np.concatenate([[np.nan], flat, [np.nan]])
    averaged: NDArray[np.float64] = (padded[:-2] + flat + padded[2:]) / 3.0
    return averaged.reshape(months.shape)


def variance(months: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the variance between years of each of twelve columns; NaN below two years."""
    known = ~np.isnan(months)
    count = known.sum(axis=0)
    mean = np.where(known, months, 0.0).sum(axis=0) / np.maximum(count, 1)
    squares = np.where(known, (months - mean) ** 2, 0.0).sum(axis=0)
    return np.where(count > 1, squares / np.maximum(count - 1, 1), np.nan)


def filled_round(months: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fill missing months by a straight line between their neighbours around the year."""
    known = np.flatnonzero(~np.isnan(months))
    filled: NDArray[np.float64] = np.interp(np.arange(12), known, months[known], period=12)
    return filled


def smooth_year(
    months: NDArray[np.float64], errors: NDArray[np.float64], harmonics: int | None = None
) -> NDArray[np.float64]:
    """Draw a mean and a few harmonics through twelve month values.

    Parameters
    ----------
    months : ndarray, shape (12,)
        NaN where unknown.
    errors : ndarray, shape (12,)
        Their standard errors.
    harmonics : int, optional
        How many; otherwise 0 to 4, as many as Akaike's criterion takes for worth their two
        parameters each, given the errors.

    Returns
    -------
    ndarray, shape (12,)
        Of the known months, one that lies 3.5 errors or more off the harmonics as it is; the
        others are filled between them.
    """
    known = np.flatnonzero(~np.isnan(months) & (errors > 0))
    if known.size < 7:  # a winter alone: nothing goes round
        return filled_round(months)
    angle = 2.0 * np.pi * np.arange(12) / 12.0
    best, least = months, np.inf
    fewest, most = (0, MOST_HARMONICS) if harmonics is None else (harmonics, harmonics)
    for count in range(fewest, most + 1):
        waves = [np.ones(12)]
        for wave in range(1, count + 1):
            waves += [np.cos(wave * angle), np.sin(wave * angle)]
        if len(waves) > known.size:
            break
        design = np.array(waves).T
        weighted = design[known] / errors[known, np.newaxis]
        found = np.linalg.lstsq(weighted, months[known] / errors[known], rcond=None)[0]
        drawn = design @ found
        misfit = float((((months - drawn)[known] / errors[known]) ** 2).sum()) + 2 * len(waves)
        if misfit < least:
            best, least = drawn, misfit
    # a step that no few harmonics follow, as where one month alone is without rain
    if harmonics is None:
        best = np.where(np.abs(best - months) > FAR * errors, months, best)
    return filled_round(np.where(np.isnan(months), np.nan, best))
