"""Kinds of year: by the user's own list, by the Oceanic Nino Index, or by the fall's own weather.

A kind belongs to a fall year, the year in which the stand is sown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import Parameter, fault
from simulator.weather.fall_year import season_day
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps
from simulator.weather.year_type_files import (
    LIST_HEADER,
    ONI_HEADER,
    check_oni_season,
    read_kinds_file,
)

if TYPE_CHECKING:
    import xarray as xr

FALL_RAIN, FALL_TEMPERATURE, FALL = "fall rain", "fall temperature", "fall"
WAYS = (FALL_RAIN, FALL_TEMPERATURE, FALL)  # what a record can tell by itself
FIRST_OF_FALL, LAST_OF_FALL = "10-01", "12-31"
FEWEST_FALLS = 6  # two of each third


def kinds_of_year(
    record: xr.Dataset, how: str = FALL_RAIN, *, season: str = "OND"
) -> dict[int, str]:
    """Give each fall year its kind.

    Parameters
    ----------
    record : Dataset
        As `make_record` gives it; short gaps are filled here.
    how : str
        ``"fall rain"`` (wet, normal, dry) or ``"fall temperature"`` (warm, normal, cool): thirds
        of the record's own falls, October to December; ``"fall"``: both, as in ``"cool wet"``;
        or a file: the user's list (`read_kinds`) or the Oceanic Nino Index (`read_oni`).
    season : str
        Season of the Oceanic Nino Index, for such a file.

    Returns
    -------
    dict of int to str
        Fall year -> kind; falls with gaps in October to December have none.

    Raises
    ------
    InputError
        An unknown way, a record that cannot be used, too few falls, or what the file's reader
        finds.
    """
    return kinds_of_falls(checked(record), how, season=season)


def kinds_of_falls(record: xr.Dataset, how: str, *, season: str) -> dict[int, str]:
    """Give each fall year of a record that is checked already its kind, as `kinds_of_year`."""
    plain = " ".join(how.split()).lower()
    check_oni_season(season)
    if plain not in WAYS:
        return read_kinds_file(_existing(how), season=season)
    rain, temperature = _falls(record)
    if len(rain) < FEWEST_FALLS:
        raise fault(
            Parameter("kinds"),
            f"Kinds by {plain} need at least {FEWEST_FALLS} falls whole from October to December; "
            f"the record has {len(rain)}.",
            "Give a longer record, or your own list of years.",
        )
    by_rain = _thirds(rain, ("dry", "normal", "wet"))
    by_temperature = _thirds(temperature, ("cool", "normal", "warm"))
    if plain == FALL_RAIN:
        return by_rain
    if plain == FALL_TEMPERATURE:
        return by_temperature
    return {year: f"{by_temperature[year]} {by_rain[year]}" for year in by_rain}


def _existing(how: str) -> Path:
    path = Path(how)
    if not path.is_file():
        raise fault(
            Parameter("kinds"),
            f"'{how[:200]}' is neither a file nor a way to sort years.",
            f"Take '{FALL_RAIN}', '{FALL_TEMPERATURE}', '{FALL}', or a file: your list "
            f"({LIST_HEADER}) or the Oceanic Nino Index ({ONI_HEADER}).",
        )
    return path


def _falls(record: xr.Dataset) -> tuple[dict[int, float], dict[int, float]]:
    """Rain [mm] and mean temperature [degC] of October to December, falls without gaps only."""
    whole = fill_short_gaps(record)
    days = whole["time"].values.astype("datetime64[D]")
    rain = whole["rain"].values
    mean = 0.5 * (whole["tmax"].values + whole["tmin"].values)
    totals, means = {}, {}
    for year in range(int(str(days[0])[:4]), int(str(days[-1])[:4]) + 1):
        first, last = season_day(year, FIRST_OF_FALL), season_day(year, LAST_OF_FALL)
        if first < days[0] or last > days[-1]:
            continue
        inside = (days >= first) & (days <= last)
        if np.isfinite(rain[inside]).all() and np.isfinite(mean[inside]).all():
            totals[year] = float(rain[inside].sum())
            means[year] = float(mean[inside].mean())
    return totals, means


def _thirds(values: Mapping[int, float], names: Sequence[str]) -> dict[int, str]:
    """Sort years into thirds; values that equal a bound lie in the middle."""
    low, high = np.quantile(list(values.values()), [1 / 3, 2 / 3])
    return {
        year: names[0] if value < low else names[2] if value > high else names[1]
        for year, value in values.items()
    }
