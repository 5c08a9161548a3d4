"""Seasons cut out of a record: which can be grown, and the weather of each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import Parameter, fault
from simulator.season import arguments
from simulator.season import plan as plans
from simulator.season.day.drivers import DAYS, season_drivers
from simulator.weather.fall_year import first_whole, season_day, usable_years
from simulator.weather.record import NAMES, unbroken

if TYPE_CHECKING:
    import xarray


IRRIGATION = "irrigation"  # attribute of a record whose falls are all watered alike


@dataclass(frozen=True)
class Seasons:
    """The usable seasons of a record, day 0 being 1 July.

    Parameters
    ----------
    years : tuple of int
        Fall years.
    tmax, tmin, rain, radiation, day_of_year : array (season, day)
        Radiation is the measured, NaN where there is none.
    irrigation : array (season, day)
        [mm].
    spans : int array (season, 2)
        First day of the soil and last day wanted.
    left_out : tuple of str
        ``"2007: why"`` for each season that was asked for and cannot run.
    late : tuple of str
        Seasons whose soil starts later than 1 September, for the notes.
    """

    years: tuple[int, ...]
    tmax: np.ndarray[Any, Any]
    tmin: np.ndarray[Any, Any]
    rain: np.ndarray[Any, Any]
    radiation: np.ndarray[Any, Any]
    irrigation: np.ndarray[Any, Any]
    day_of_year: np.ndarray[Any, Any]
    spans: np.ndarray[Any, Any]
    left_out: tuple[str, ...]
    late: tuple[str, ...]

    def drivers(self, latitude: float, cereal: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        """Return what all plans of each season share, from `season_drivers`.

        Parameters
        ----------
        latitude : float
            [degrees north].
        cereal : structured array (1,)
            Its parameter set.

        Returns
        -------
        array (season, day, columns)
        """
        return season_drivers(
            self.tmax,
            self.tmin,
            self.rain,
            self.day_of_year,
            latitude,
            self.spans,
            cereal,
            self.radiation,
            self.irrigation,
        )

    def days(self) -> list[tuple[np.datetime64, np.datetime64]]:
        """Return the first and last day of each season."""
        starts = [season_day(year, "07-01") for year in self.years]
        return [
            (start + int(first), start + int(last))
            for start, (first, last) in zip(starts, self.spans, strict=True)
        ]

    def unwatered(self) -> Seasons:
        """Return the same seasons without irrigation."""
        return replace(self, irrigation=np.zeros_like(self.irrigation))

    def take(self, some: slice) -> Seasons:
        """Return some of the seasons."""
        return replace(
            self,
            years=self.years[some],
            tmax=self.tmax[some],
            tmin=self.tmin[some],
            rain=self.rain[some],
            radiation=self.radiation[some],
            irrigation=self.irrigation[some],
            day_of_year=self.day_of_year[some],
            spans=self.spans[some],
        )


def days_used(
    years: Iterable[int], sow: str, end: str, more: int = 0
) -> list[tuple[np.datetime64, np.datetime64]]:
    """Return the first and last day that falls are looked at, from the soil's first on.

    Parameters
    ----------
    years : iterable of int
    sow, end : str
        MM-DD.
    more : int
        Days after the end that are looked at too.
    """
    first = min(plans.SOIL_STARTS, sow, key=plans.order)
    return [(season_day(year, first), season_day(year, end) + more) for year in years]


def stacked(parts: Sequence[Seasons]) -> Seasons:
    """Put the seasons of several records one after another, so that one run grows them all.

    Parameters
    ----------
    parts : sequence of Seasons
        Of the same falls in weather that differs; what was left out is that of the first.
    """
    first = parts[0]
    joined: dict[str, Any] = {
        field.name: np.concatenate([getattr(part, field.name) for part in parts])
        for field in fields(Seasons)
        if isinstance(getattr(first, field.name), np.ndarray)
    }
    return replace(first, years=tuple(year for part in parts for year in part.years), **joined)


def days_needed(sowings: Sequence[str], ends: Sequence[plans.End]) -> tuple[str, str, bool]:
    """Return the days between which weather must be whole, and whether more is of use.

    Parameters
    ----------
    sowings : sequence of str
        MM-DD.
    ends : sequence of End

    Returns
    -------
    str, str
        The earliest sowing and the latest dated end, MM-DD.
    bool
        Whether an end, by stage or biomass, may come later.
    """
    dated = [end.date for end in ends if end.date]
    sow = min(sowings, key=plans.order)
    return sow, max([sow, *dated], key=plans.order), len(dated) < len(ends)


def cut_seasons(
    record: xarray.Dataset,
    years: Iterable[int] | None,
    sowings: Sequence[str],
    ends: Sequence[plans.End],
) -> Seasons:
    """Cut a record into seasons and say which cannot be used.

    Parameters
    ----------
    record : Dataset(time)
        Short gaps already filled.
    years : iterable of int, optional
        Fall years; all that the record touches without it.
    sowings : sequence of str
        Weather must be whole from the earliest, MM-DD, to the latest dated end.
    ends : sequence of End

    Raises
    ------
    InputError
        No season is whole.
    """
    sow, last_date, open_end = days_needed(sowings, ends)
    if years is not None and not (years := sorted(set(years))):
        raise fault(Parameter("years"), "No year given.")
    kept, reasons = usable_years(record, sow, last_date, years)
    left_out = tuple(f"{year}: {why}" for year, why in reasons.items())
    if not kept:
        example = f" Season {left_out[0]}" if left_out else ""
        earliest = first_whole(record, last_date)
        partly = earliest and plans.order(earliest) > plans.order(sow)
        later = f"sow on {earliest} or later, give" if partly else "give"
        raise fault(
            "weather",
            f"No season has whole weather from {sow} to {last_date}.{example}",
            f"{later[0].upper()}{later[1:]} a record that covers sowing to termination, or other"
            " years.",
        )
    record = unbroken(record)
    times = record["time"].values.astype("datetime64[D]")
    columns = np.stack([np.asarray(record[name].values, float) for name in NAMES])
    block = np.full((len(NAMES), len(kept), DAYS), np.nan)
    days = np.array([season_day(year, "07-01") for year in kept])[:, None] + np.arange(DAYS)
    place = (days - times[0]).astype(int)
    there = (place >= 0) & (place < times.size)
    block[:, there] = columns[:, place[there]]
    radiation = np.full((len(kept), DAYS), np.nan)
    if "radiation" in record:
        radiation[there] = np.asarray(record["radiation"].values, float)[place[there]]
    day_of_year = (days - days.astype("datetime64[Y]")).astype(int) + 1.0
    missing = ~np.isfinite(block).all(axis=0)
    spans = np.zeros((len(kept), 2), dtype=np.int64)
    late: list[str] = []
    for season, year in enumerate(kept):
        gaps = np.flatnonzero(missing[season])
        sow_day = plans.day_number(year, sow)
        before, after = gaps[gaps < sow_day], gaps[gaps > sow_day]
        start = min(plans.day_number(year, plans.SOIL_STARTS), sow_day)
        first = max(start, int(before[-1]) + 1 if before.size else 0)
        if first > start:
            late.append(f"{year} ({days[season, first]})")
        last = plans.day_number(year, last_date)
        if open_end:
            last = int(after[0]) - 1 if after.size else DAYS - 1
        spans[season] = first, last
    tmax, tmin, rain = (np.ascontiguousarray(column) for column in block)
    water = by_day(irrigation_of(record), kept)
    weather = tmax, tmin, rain, radiation, water, day_of_year
    return Seasons(tuple(kept), *weather, spans, left_out, tuple(late))


def latitude_of(record: xarray.Dataset) -> float:
    """Return a record's latitude [degrees north], which the model needs between 0 and 66.

    Raises
    ------
    InputError
        None given, or out of range.
    """
    latitude = record.attrs.get("latitude")
    if latitude is None or not np.isfinite(float(latitude)):
        raise fault(
            Parameter("latitude"),
            "The record carries no latitude.",
            "Give it in degrees north, such as 31.3.",
        )
    if not 0.0 < float(latitude) <= 66.0:
        raise fault(
            Parameter("latitude"),
            f"{latitude} is out of range.",
            "The model runs from 0 to 66 degrees north.",
        )
    return float(latitude)


def notes_on(seasons: Seasons) -> list[str]:
    """Say in which seasons the soil starts late."""
    if not seasons.late:
        return []
    return [
        "The soil starts later than 1 September, when the record does: " + ", ".join(seasons.late)
    ]


def watered(
    record: xarray.Dataset,
    given: str | Sequence[str] | None,
    sow: str | Sequence[str],
    end: str | Sequence[str],
) -> xarray.Dataset:
    """Return a record whose falls are watered as Python gives it; as it is where it gives none.

    Parameters
    ----------
    record : Dataset(time)
    given : str or list of str, optional
        As `simulator.season.plan.read_irrigation` takes it.
    sow, end : str or list of str
        Of the plans; a text may have several with commas.

    Raises
    ------
    InputError
        As `simulator.season.plan.read_irrigation` and `check_irrigation`.
    """
    if given is None or given == "":
        return record
    (texts,) = arguments.texts(irrigation=given)
    irrigation = plans.read_irrigation(texts)
    sowings = [plans.month_day(text, name=Parameter("sow")) for text in _each(sow)]
    plans.check_irrigation(irrigation, sowings, _each(end))
    return irrigated(record, irrigation)


def irrigated(record: xarray.Dataset, irrigation: Sequence[plans.Irrigation]) -> xarray.Dataset:
    """Return a record whose falls are all watered so; nothing else of it is changed."""
    return record.assign_attrs({IRRIGATION: written(irrigation)})


def irrigation_of(record: xarray.Dataset) -> tuple[plans.Irrigation, ...]:
    """Return how the falls of a record are watered.

    Raises
    ------
    InputError
        Its attribute cannot be read.
    """
    text = record.attrs.get(IRRIGATION)
    return plans.read_irrigation(str(text), name="the record's irrigation") if text else ()


def written(irrigation: Sequence[plans.Irrigation]) -> str:
    """Write waterings so that they are read again to the bit."""
    return ", ".join(f"{one.amount!r} mm on {one.date}" for one in irrigation)


def by_day(irrigation: Sequence[plans.Irrigation], years: Sequence[int]) -> np.ndarray[Any, Any]:
    """Lay waterings on the days of fall years: array (season, day) [mm]."""
    water = np.zeros((len(years), DAYS))
    for season, year in enumerate(years):
        for one in irrigation:
            water[season, plans.day_number(year, one.date)] += one.amount
    return water


def _each(given: str | Sequence[str]) -> list[str]:
    return [part.strip() for part in given.split(",")] if isinstance(given, str) else list(given)
