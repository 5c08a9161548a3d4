"""Sowing dates where none is given: a command's own, as far as the weather covers them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from simulator.commands.shared.options import SOWING_DATES
from simulator.problems import Parameter, Text

if TYPE_CHECKING:
    import xarray as xr

MOVED = "fallsown.sowings moved"  # key of what the click context keeps for us


def covered_sowings(
    record: xr.Dataset, sow: Sequence[str], ends: Iterable[str], years: Sequence[int] | None
) -> list[str]:
    """Leave out those of a command's own sowing dates that no fall's weather covers, and say so.

    Where none is left, the first of the usual dates that is covered stands in. Dates that the
    reader gave with --sow stay as they are, and so do all where nothing is covered: running
    them tells what is wrong.

    Parameters
    ----------
    record : Dataset(time)
    sow : sequence of str
        Sowing dates, MM-DD.
    ends : iterable of str
        Ends of the stand; the weather must be whole from sowing to the last that is a date.
    years : sequence of int or None
        Fall years asked for.

    Returns
    -------
    list of str
        At least one.
    """
    context = click.get_current_context()
    if context.get_parameter_source("sow") is not ParameterSource.DEFAULT:
        return list(sow)
    from simulator.season.plan import end, order
    from simulator.show import wording
    from simulator.weather.fall_year import usable_years
    from simulator.weather.record import fill_short_gaps

    filled = fill_short_gaps(record)
    dated = [date for text in ends if (date := end(text).date)]

    def covered(date: str) -> bool:
        last = max([date, *dated], key=order)
        return bool(usable_years(filled, date, last, years)[0])

    kept = [date for date in sow if covered(date)]
    if not kept:
        early = [date for date in SOWING_DATES if all(order(date) < order(last) for last in dated)]
        kept = [date for date in early if covered(date)][:1]
    if not kept or kept == list(sow):
        return list(sow)

    def spelt(dates: Iterable[str]) -> str:
        return wording.join([wording.dates_in(date) for date in dates])

    gone = spelt(date for date in sow if date not in kept)
    until = f" to {wording.dates_in(max(dated, key=order))}" if dated else ""
    asked = "" if years is None else " asked for"
    context.meta.setdefault(MOVED, []).append(
        Text(
            f"No fall{asked} at {record.attrs['site']} has whole weather from the usual sowing on "
            f"{gone}{until}: sown on {spelt(kept)} (",
            Parameter("sow"),
            " takes other dates).",
        )
    )
    return kept


def sowings_moved() -> list[str]:
    """Say, as notes, which sowing dates were left out for want of weather."""
    return list(click.get_current_context().meta.get(MOVED, []))
