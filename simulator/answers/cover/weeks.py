"""Nitrogen that residue frees or ties up, by week after the end and after planting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.cover.calculate import WEEK, Cover
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING, row_of
from simulator.answers.shared.regrowth import left_alive
from simulator.problems import Parameter, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.cover.on_day import OnDay
    from simulator.answers.shared.regrowth import Left
    from simulator.parameters.terminations import Way

Array = np.ndarray[Any, Any]

IN_WEEKS = (1, 2, 4, 6, 8, 12, 16, 20, 26, 39, 52)
LAST_WEEK = 52


def read_weeks(texts: Sequence[str], problems: list[Problem]) -> tuple[int, ...]:
    """Read weeks after the end, in order; what is wrong with them is added to the problems."""
    option = Parameter("weeks")
    for text in texts:
        if not (text.isascii() and text.isdigit() and 1 <= int(text) <= LAST_WEEK):
            problems.append(
                Problem(
                    option,
                    f"'{text[:40]}' is not a number of weeks.",
                    f"Take whole weeks from 1 to {LAST_WEEK}, such as 2,4,8.",
                )
            )
    return () if problems else tuple(sorted(int(text) for text in texts))


def shown_weeks(found: Cover) -> list[int]:
    """Return the weeks that are told, as far as the residue is followed."""
    return [week for week in (found.weeks or IN_WEEKS) if WEEK * week <= found.days]


def stages_of(stands: xr.Dataset) -> Array:
    """Zadoks stages of the falls at the end, NaN where no stand lives."""
    alive = stands["stand_alive"].values > 0
    return np.where(alive, stands["growth_stage_zadoks"].values, np.nan)


def regrowths(found: Cover) -> Iterator[tuple[str, str, Way, Array, Left]]:
    """Give, by sowing and way to lie, how it is ended, the falls' stages, and what grows back."""
    for sow in map(str, found.stands["sow"].values):
        stages = stages_of(found.stands.sel(sow=sow))
        for name in map(str, found.residue["residue"].values):
            way = found.way(name)
            yield sow, name, way, stages, left_alive(stages, way)


def freed(found: Cover, sow: str, name: str) -> Array:
    """Return what decay has freed since the end, by day after it and fall (day, fall) [kg/ha]."""
    released = found.residue["nitrogen_released_kg_ha"].sel(sow=sow, residue=name)
    return np.asarray(released.transpose("day", "year").values)


def in_week(since_end: Array, week: int) -> Array:
    """Return what decay frees in one week after the end, fall by fall, of what `freed` gives."""
    return np.asarray(since_end[WEEK * week] - since_end[WEEK * (week - 1)])


def after_planting(since_end: Array, one: OnDay, later: int) -> Array | None:
    """Return what is freed by so many days after planting; None where none is followed so far."""
    days = one.days + later
    if days.max() >= len(since_end):
        return None
    return np.asarray(since_end[days, np.arange(days.size)])


def planted(found: Cover) -> OnDay | None:
    """Return the day of planting; None where nothing is known of it."""
    return next((one for one in found.on if one.soil is not None), None)


def weeks_json(found: Cover) -> list[dict[str, Any]]:
    """Return a row a week, sowing and way to lie: mean and the weather's range, SI."""
    rows = []
    one = planted(found)
    for sow in map(str, found.residue["sow"].values):
        for name in map(str, found.residue["residue"].values):
            about, since_end = {"sow": sow, "residue": name}, freed(found, sow, name)
            for week in shown_weeks(found):
                since = row_of(since_end[WEEK * week], "released_since_end")
                row = row_of(in_week(since_end, week), "released_in_week")
                rows.append({**about, "after": "end", "week": week, **row, **since})
            for later in AFTER_PLANTING if one is not None else ():
                assert one is not None
                values = after_planting(since_end, one, later)
                if values is not None:
                    row = row_of(values, "released_since_end")
                    rows.append({**about, "after": "planting", "week": later // WEEK, **row})
    return rows
