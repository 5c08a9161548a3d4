"""The day on which the next crop is planted, where none is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator.problems import Parameter, Text
from simulator.season.plan import order
from simulator.show.wording import dates_in
from simulator.weather.fall_year import usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

PLANTING = "05-15"  # corn, cotton and soybean are being planted then: common practice, no source
SHARE_KEPT = 0.8  # of the falls, whose weather must go on until then


def usual_planting(
    record: xr.Dataset, sow: str, ends: Sequence[str], years: Sequence[int] | None
) -> str:
    """Return the day of planting where none is given, MM-DD.

    `PLANTING`, or the last date of ending if that is later; and that too where the weather of
    most falls does not go on to `PLANTING`.

    Parameters
    ----------
    record : Dataset(time)
    sow : str
        Sowing date, MM-DD.
    ends : sequence of str
        Dates of ending, MM-DD.
    years : sequence of int or None
        Fall years asked for.
    """
    filled = fill_short_gaps(checked(record))
    last = max(ends, key=order)
    if order(last) >= order(PLANTING):
        return last
    there, wanted = (len(usable_years(filled, sow, date, years)[0]) for date in (PLANTING, last))
    return PLANTING if there and there >= SHARE_KEPT * wanted else last


def taken(planting: str) -> str:
    """Say on which day the next crop is taken to be planted, where none was given."""
    return Text(
        f"The next crop is taken to be planted on {dates_in(planting)} (",
        Parameter("planting"),
        " takes another day).",
    )
