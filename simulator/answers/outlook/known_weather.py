"""The season under way, and how far its weather is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.season.measured import Measured
from simulator.season.plan import order
from simulator.weather.fall_year import season_day, why_not
from simulator.weather.files.record_check import checked
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr

AS_IF_TODAY = "01-15"  # in a season that the record has whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """How far the weather of a season is known.

    Parameters
    ----------
    year : int
        Fall year.
    today : str
        Last day known, MM-DD.
    as_if : bool
        Whether the record goes on, and the season is taken as if it were unfinished.
    """

    year: int
    today: str
    as_if: bool


def known_weather(
    record: xr.Dataset, sow: str, last: str, year: int | None = None, today: str | None = None
) -> Known:
    """Find the season under way and the day up to which its weather is known.

    Parameters
    ----------
    record : Dataset
        Short gaps filled.
    sow, last : str
        Sowing and last end, MM-DD.
    year : int, optional
        Fall year; the last whose sowing the record has, without it.
    today : str, optional
        MM-DD; without it the record's end, or 15 January where the record has the season whole.

    Raises
    ------
    InputError
        The record does not reach the sowing or the day, has gaps before it, or the season is
        over by then.
    """
    record = checked(record)
    whole = np.isfinite([record[name].values for name in NAMES]).all(axis=0)
    days = record["time"].values.astype("datetime64[D]")[whole]
    if not days.size:
        raise fault("weather", "It has no whole day.", "Give a record with values.")
    until = days[-1]
    if year is None:
        year = int(str(until)[:4])
        year -= int(season_day(year, sow) > until)
    over = season_day(year, last)
    if today is None:
        middle = season_day(year, AS_IF_TODAY)
        if until < over:
            day = until
        elif season_day(year, sow) <= middle < over:
            day = middle
        else:
            day = season_day(year, sow) + (over - season_day(year, sow)) // 2
        today = str(day)[5:]
        today = "02-28" if today == "02-29" else today
    now = season_day(year, today, name=Parameter("today"))
    if now >= over:
        raise fault(
            Parameter("today"),
            f"On {now} the season is over, its last end being {over}.",
            "Name a day before the last end.",
        )
    if now > until:
        raise fault(
            Parameter("today"),
            f"The weather ends on {until}, before {now}.",
            Text("Name an earlier day, or another ", Parameter("year"), "."),
        )
    if now < days[0]:
        raise fault(
            Parameter("year"),
            f"The weather begins on {days[0]}, after {now}.",
            "Name a later year.",
        )
    if now >= season_day(year, sow) and (gap := why_not(record, year, sow, today)):
        raise fault(
            f"season {year} at {record.attrs.get('site', 'this site')}",
            gap,
            "The weather must be whole from sowing to today.",
        )
    return Known(year=year, today=today, as_if=bool(until > now))


def check_measured(measured: Sequence[Measured], sow: str, known: Known) -> None:
    """Refuse what was measured before sowing or after the last day known; all faults are told.

    Raises
    ------
    InputError
    """
    problems = []
    for one in measured:
        if order(one.date) <= order(sow):
            problems.append(
                Problem(
                    Parameter("measured"),
                    f"Nothing stands on {one.date}, the stand being sown on {sow}.",
                    "Name a day after sowing.",
                )
            )
        if order(one.date) > order(known.today):
            problems.append(
                Problem(
                    Parameter("measured"),
                    f"What was measured on {one.date} comes after {known.today}, the last day "
                    "known.",
                    Text("Name that day or an earlier one, or give ", Parameter("today"), "."),
                )
            )
    if problems:
        raise InputError(problems)
