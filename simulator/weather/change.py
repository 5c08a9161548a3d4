"""What-ifs: a record with its rain or its temperature changed, as `change_text` reads it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.problems import InputError, Problem, fault
from simulator.weather.change_text import OPTION, Change, parse_change
from simulator.weather.files.record_check import checked
from simulator.weather.radiation import follow_change
from simulator.weather.rain_total import with_total
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

MOST_CHANGES = 50


def change_weather(
    record: xr.Dataset, *changes: str | Change | list[str] | list[Change] | tuple[str | Change, ...]
) -> xr.Dataset:
    """Change the weather of a record, every year alike.

    Parameters
    ----------
    record : Dataset, dimension time
        Daily tmax, tmin [degC] and rain [mm]; not altered.
    *changes : str, Change, or lists of them
        As the table of `change_text` has it, at most 50; applied in the order given.

    Returns
    -------
    Dataset
        A copy; ``attrs["changes"]`` keeps what was changed, in order, after what the record
        had there.

    Raises
    ------
    InputError
        The record cannot be used, a change cannot be read (all those that cannot are named),
        the record has no such days, a span has less rain than is to be taken away, or a day's
        Tmax would fall below its Tmin.

    Notes
    -----
    *Rain set to a total.* Each year's span is brought to the total on its own; a span that
    crosses the new year counts by winters. All its wet days are scaled alike, as far as at
    least one day in ten (three in a month) is wet and none comes to exceed 150 mm; what is then
    wanting falls in equal parts on every fifth day, six in a month (see
    `simulator.weather.rain_total.with_total`). Adding rain sets the total to what there was and
    the addition.

    *Missing days* stay missing: a total is reached on the days that have a value, also in a
    span cut short by the record's ends, and a span without any is left as it is.

    *Temperature* moves Tmax and Tmin alike; ``tmax`` and ``tmin`` move one of them.

    *Radiation*, where the record has it measured, stays as it is on days that are not changed; on
    the others see `simulator.weather.radiation.follow_change`.

    Examples
    --------
    >>> from simulator.weather.samples import sample_weather
    >>> wet = change_weather(sample_weather(), "rain november = 11 inch")
    >>> november = wet.rain[wet.time.dt.month == 11]
    >>> float((november.groupby("time.year").sum() / 25.4).min().round(6))
    11.0
    """
    return changed_by(checked(record), *changes)


def changed_by(
    record: xr.Dataset, *changes: str | Change | list[str] | list[Change] | tuple[str | Change, ...]
) -> xr.Dataset:
    """Change the weather of a record that is checked already, as `change_weather` does."""
    read = _read_all(changes)
    values = {name: np.array(record[name], dtype=float) for name in NAMES}
    days = record["time"].to_numpy().astype("datetime64[D]")
    for change in read:
        _apply(change, values, days)
    before = [record.attrs["changes"]] if record.attrs.get("changes") else []
    changed = record.assign({name: record[name].copy(data=values[name]) for name in NAMES})
    return follow_change(changed, record).assign_attrs(
        changes="; ".join([*before, *(change.text for change in read)])
    )


def _read_all(
    changes: tuple[str | Change | list[str] | list[Change] | tuple[str | Change, ...], ...],
) -> list[Change]:
    listed: list[str | Change] = []
    for given in changes:
        listed += list(given) if isinstance(given, list | tuple) else [given]
    if len(listed) > MOST_CHANGES:
        raise fault(OPTION, f"{len(listed)} changes given.", f"Give at most {MOST_CHANGES}.")
    read: list[Change] = []
    problems: list[Problem] = []
    for item in listed:
        try:
            read.append(item if isinstance(item, Change) else parse_change(item))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return read


def _apply(
    change: Change, values: dict[str, NDArray[np.float64]], days: NDArray[np.datetime64]
) -> None:
    names = ("tmax", "tmin") if change.quantity == "temperature" else (change.quantity,)
    spans = change.occurrences(days)
    if not any(np.isfinite(values[name][span]).any() for name in names for span in spans):
        raise fault(
            OPTION,
            f"'{change.text}': the record has no {change.quantity} {change.span}.",
            f"It covers {days[0]} to {days[-1]}.",
        )
    if change.quantity == "rain":
        rain = values["rain"]
        for span in spans:
            known = span[np.isfinite(rain[span])]
            rain[known] = _rained(change, rain[known], days[known])
        return
    everywhere = np.concatenate(spans)
    for name in names:
        values[name][everywhere] += change.amount
    crossed = values["tmax"][everywhere] < values["tmin"][everywhere]
    if len(names) == 1 and crossed.any():
        first = days[everywhere[np.argmax(crossed)]]
        raise fault(
            OPTION,
            f"'{change.text}': Tmax would fall below Tmin, first on {first}.",
            "Change it by less, or change 'temperature', which moves both.",
        )


def _rained(
    change: Change, rain: NDArray[np.float64], days: NDArray[np.datetime64]
) -> NDArray[np.float64]:
    """Apply a change of rain to the known days of one year's span."""
    if change.operation == "times" or rain.size == 0:
        return rain * change.amount
    there = math.fsum(rain)
    total = change.amount if change.operation == "set" else there + change.amount
    if total < 0:
        raise fault(
            OPTION,
            f"'{change.text}': from {days[0]} to {days[-1]} only {there:.1f} mm "
            f"fell ({there / 25.4:.2f} inch).",
            "Take away less, or scale: 'rain november * 0.5'.",
        )
    return with_total(rain, total)
