"""The season under way: weather up to today, then the remainder of every other year."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.answers.outlook.clipped import Clipped, clipped
from simulator.answers.shared.few_falls import FEWEST, band, crps, wilson
from simulator.parameters import cereals, fertilizers, soils
from simulator.problems import fault
from simulator.season import plan as plans
from simulator.season.clipping import Clipping
from simulator.season.compiling import Announce
from simulator.season.day.drivers import DAYS
from simulator.season.ensemble import Stand, grow_seasons
from simulator.season.seasons import SOIL_STARTS, latitude_of
from simulator.weather.files.record_check import checked
from simulator.weather.record import (
    A_DAY,
    NAMES,
    fill_short_gaps,
    season_day,
    unbroken,
    usable_years,
    why_not,
)

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[Any]

AS_IF_TODAY = "01-15"  # in a season that the record has whole
LOOKED_BACK = (
    "11-01",
    "11-15",
    "12-01",
    "12-15",
    "01-01",
    "01-15",
    "02-01",
    "02-15",
    "03-01",
    "03-15",
    "04-01",
)
TRIED = ("11-15", "12-15", "01-15", "02-15", "03-15")  # of the hindcast
_LEAP_DAY = plans.day_number(2003, "02-28") + 1  # season day of 29 February, where there is one


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
    now = season_day(year, today, name="--today")
    if now >= over:
        raise fault(
            "--today",
            f"On {now} the season is over, its last end being {over}.",
            "Name a day before the last end.",
        )
    if now > until:
        raise fault(
            "--today",
            f"The weather ends on {until}, before {now}.",
            "Name an earlier day, or another --year.",
        )
    if now < days[0]:
        raise fault(
            "--year", f"The weather begins on {days[0]}, after {now}.", "Name a later year."
        )
    if now >= season_day(year, sow) and (gap := why_not(record, year, sow, today)):
        raise fault(
            f"season {year} at {record.attrs.get('site', 'this site')}",
            gap,
            "The weather must be whole from sowing to today.",
        )
    return Known(year=year, today=today, as_if=bool(until > now))


def season_blocks(record: xr.Dataset, years: Sequence[int]) -> Values:
    """Cut seasons out of a record, from 1 July on: array (year, column, day), NaN where none.

    The columns are those of `simulator.weather.record.NAMES`, then measured radiation.
    """
    record = unbroken(record)
    days = record["time"].values.astype("datetime64[D]")
    named = [*NAMES, *(["radiation"] if "radiation" in record else [])]
    columns = np.full((len(NAMES) + 1, days.size), np.nan)
    columns[: len(named)] = [np.asarray(record[name].values, float) for name in named]
    blocks = np.full((len(years), len(columns), DAYS), np.nan)
    for place, year in enumerate(years):
        at = (season_day(year, "07-01") + np.arange(DAYS) - days[0]).astype(int)
        there = (at >= 0) & (at < days.size)
        blocks[place][:, there] = columns[:, at[there]]
    return blocks


def is_leap(year: int) -> bool:
    """Say whether the winter of a fall year has a 29 February."""
    return bool(season_day(year, "03-01") - season_day(year, "02-28") > A_DAY)


def same_days(year: int, other: int) -> Values:
    """Return, for each season day of one fall year, that of the same date in another.

    A 29 February that the other year lacks takes its 28 February.
    """
    days = np.arange(DAYS)
    shift = int(is_leap(other)) - int(is_leap(year))
    return np.minimum(np.where(days >= _LEAP_DAY, days + shift, days), DAYS - 1)


def splice(block: Values, blocks: Values, year: int, others: Sequence[int], today: int) -> Values:
    """Join the weather of one season up to today with the remainders of others.

    Parameters
    ----------
    block : array (column, day)
        The season's own.
    blocks : array (other, column, day)
    year : int
        Its fall year.
    others : sequence of int
        Theirs.
    today : int
        Last season day that is the season's own.

    Returns
    -------
    array (other, column, day)
        On the season's own calendar.
    """
    joined = np.stack(
        [one[:, same_days(year, other)] for one, other in zip(blocks, others, strict=True)]
    )
    joined[:, :, : today + 1] = block[:, : today + 1]
    return joined


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What a season may still become.

    Parameters
    ----------
    known : Known
    others : tuple of int
        Fall years whose remainders are used.
    fan : Dataset(as_of, end, other)
        Biomass with the weather known up to each date; the last is today.
    paths : Dataset(time, other)
        Biomass by date, as of today.
    usual : array (end, other)
        Biomass of the other years as they were.
    hindcast : Dataset(date, end) or None
    left_out : list of str
    attrs : dict
        Where it comes from.
    clipped : Clipped, optional
        What clippings say of it, if any are told.
    """

    known: Known
    others: tuple[int, ...]
    fan: xr.Dataset
    paths: xr.Dataset
    usual: Values
    hindcast: xr.Dataset | None
    left_out: list[str]
    attrs: dict[str, Any]
    clipped: Clipped | None = None


class _Seasons:
    """One plan, with the weather of every season that can be used."""

    def __init__(
        self,
        record: xr.Dataset,
        plan: Mapping[str, str],
        field: Mapping[str, Any],
        dates: Sequence[str],
        years: Sequence[int],
        announce: Announce | None,
    ) -> None:
        self.sow, self.dates, self.years = plan["sow"], list(dates), list(years)
        self.blocks = season_blocks(record, self.years)
        self.announce = announce
        self.about: dict[str, Any] = {
            "latitude": latitude_of(record),
            "sow": self.sow,
            "ends": self.dates,
            "seeding": plans.seeding_rates(plan["seeding"])[0],
            "rates": plans.nitrogen_rates(plan["nitrogen"]),
            "timing": plans.dressings(plan["nitrogen_timing"]),
            "cereal": _set(field.get("cereal", "rye"), cereals.cereal),
            "soil": _set(field.get("soil", "sandy loam"), soils.soil),
            "previous_crop": _set(field.get("previous_crop", "cotton"), soils.previous_crop),
            "fertilizer": _set(field.get("fertilizer", "ammonium nitrate"), fertilizers.fertilizer),
        }

    def grow(self, year: int, weather: Values) -> Values:
        """Biomass (season, date) of seasons on the calendar of a year [kg/ha]."""
        stand = Stand(year=year, first=self.first_day(year, weather), **self.about)
        columns = (np.ascontiguousarray(weather[:, c]) for c in range(len(NAMES) + 1))
        grown = grow_seasons(stand, *columns, announce=self.announce)
        return np.asarray(grown["biomass_kg_ha"][:, 0])

    def first_day(self, year: int, weather: Values) -> int:
        """Season day from which the weather is whole: the soil starts then."""
        sowing = plans.day_number(year, self.sow)
        before = ~np.isfinite(weather[:, : len(NAMES), :sowing]).all(axis=(0, 1))
        first = int(np.flatnonzero(before)[-1]) + 1 if before.any() else 0
        return max(first, min(plans.day_number(year, SOIL_STARTS), sowing))

    def clipped(
        self, known: Known, clippings: Sequence[Clipping], ends: Sequence[str], past: Sequence[str]
    ) -> Clipped:
        """Work out what the season may still make, told clippings."""
        at = self.years.index(known.year)
        others = [place for place in range(len(self.years)) if place != at]
        names = [self.years[place] for place in others]
        now = plans.day_number(known.year, known.today)
        weather = splice(self.blocks[at], self.blocks[others], known.year, names, now)
        first = self.first_day(known.year, weather)
        return clipped(self.about, known.year, weather, first, clippings, ends, past)

    def outlooks(self, year: int, known_to: Sequence[str]) -> Values:
        """Biomass (known to, other, date): a year is never its own remainder."""
        at = self.years.index(year)
        others = [place for place in range(len(self.years)) if place != at]
        names = [self.years[place] for place in others]
        spliced = [
            splice(self.blocks[at], self.blocks[others], year, names, plans.day_number(year, day))
            for day in known_to
        ]
        grown = self.grow(year, np.concatenate(spliced))
        shape = (len(known_to), len(others), len(self.dates))
        return np.asarray(grown.reshape(shape))

    def happened(self, year: int) -> Values:
        """Biomass (date,) with the weather that a year had."""
        return np.asarray(self.grow(year, self.blocks[[self.years.index(year)]])[0])


def _set(given: Any, look_up: Any) -> Any:
    return look_up(given) if isinstance(given, str) else given


def outlook(
    record: xr.Dataset,
    plan: Mapping[str, str],
    field: Mapping[str, Any],
    *,
    ends: Sequence[str],
    year: int | None = None,
    today: str | None = None,
    years: Sequence[int] | None = None,
    with_hindcast: bool = True,
    measured: Sequence[Clipping] = (),
    announce: Announce | None = None,
) -> Outlook:
    """Work out what a season under way may still become.

    Parameters
    ----------
    record : Dataset(time)
    plan : mapping
        ``sow``, ``seeding``, ``nitrogen``, ``nitrogen_timing`` as texts.
    field : mapping
        ``cereal``, ``soil``, ``previous_crop``, ``fertilizer``: names or parameter sets.
    ends : sequence of str
        Dates MM-DD; those not after today are left out.
    year, today
        As in `known_weather`.
    years : sequence of int, optional
        Fall years whose remainders are used; all but the season's own without it.
    with_hindcast : bool
        Whether past seasons are tried too.
    measured : sequence of Clipping
        What was clipped of the stand, from sowing to today.
    announce : callable, optional
        As in `compare`.

    Returns
    -------
    Outlook

    Raises
    ------
    InputError
        Fewer than `FEWEST` other years; what `known_weather` and `check_clippings` find.
    """
    import xarray as xr

    record = fill_short_gaps(checked(record))
    sow = plan["sow"]
    ends = sorted(ends, key=_day)
    timing = plans.dressings(plan["nitrogen_timing"])
    plans.check_order([sow], [timing], [plans.end(end) for end in ends])
    known = known_weather(record, sow, ends[-1], year, today)
    now = _day(known.today)
    check_clippings(measured, sow, known)
    over = [end for end in ends if _day(sow) < _day(end) <= now]
    left_out = [f"end {end}: not after {known.today}" for end in ends if _day(end) <= now]
    ends = [end for end in ends if _day(end) > now]
    needed_from = _date(min(_day(sow), now + 1))
    usable, reasons = usable_years(record, needed_from, ends[-1], years)
    left_out += [f"{y}: {why}" for y, why in reasons.items() if y != known.year]
    others = tuple(y for y in usable if y != known.year)
    if len(others) < FEWEST:
        raise fault(
            f"weather of {record.attrs.get('site', 'this site')}",
            f"An outlook needs at least {FEWEST} other falls; the weather has {len(others)} that "
            "can be used.",
            "Give a longer record.",
        )
    weekly = [_date(day) for day in range(_day(sow) + 7, _day(ends[-1]), 7)]
    dates = sorted({*weekly, *ends}, key=_day)
    seasons = _Seasons(record, plan, field, dates, [*others, known.year], announce)
    back = [day for day in LOOKED_BACK if _day(sow) < _day(day) < now]
    grown = seasons.outlooks(known.year, [*back, known.today])
    at = [dates.index(end) for end in ends]
    as_of = [str(season_day(known.year, day)) for day in (*back, known.today)]
    fan = xr.Dataset(
        {"biomass_kg_ha": (("as_of", "end", "other"), grown[:, :, at].transpose(0, 2, 1))},
        coords={"as_of": as_of, "end": ends, "other": list(others)},
    )
    time = np.array([season_day(known.year, day) for day in dates]).astype("datetime64[ns]")
    paths = xr.Dataset(
        {"biomass_kg_ha": (("time", "other"), grown[-1].T)},
        coords={"time": time, "other": list(others)},
    )
    happened = {y: seasons.happened(y) for y in others}
    about = seasons.about
    kept = ("site", "latitude", "longitude", "source", "invented", "changes", "filled")
    attrs = {key: record.attrs[key] for key in kept if record.attrs.get(key) not in (None, "")}
    attrs |= {name: about[name].name for name in ("cereal", "soil", "previous_crop", "fertilizer")}
    attrs |= {
        "sow": sow,
        "seeding_kg_ha": about["seeding"],
        "nitrogen_kg_ha": about["rates"][0],
        "nitrogen_timing": plan["nitrogen_timing"],
        "year": known.year,
    }
    tried = sorted({*TRIED, known.today}, key=_day)
    tried = [day for day in tried if _day(sow) < _day(day) < _day(ends[-1])]
    hindcast = None
    if with_hindcast and tried and len(others) > FEWEST:
        past = _Seasons(record, plan, field, ends, others, announce)
        hindcast = judge(
            others,
            ends,
            tried,
            np.stack([past.outlooks(y, tried) for y in others]),
            np.stack([happened[y][at] for y in others]),
        )
    return Outlook(
        known=known,
        others=others,
        fan=fan,
        paths=paths,
        hindcast=hindcast,
        left_out=left_out,
        usual=np.stack([happened[y][at] for y in others], axis=1),
        attrs=attrs,
        clipped=seasons.clipped(known, measured, ends, over) if measured else None,
    )


def check_clippings(measured: Sequence[Clipping], sow: str, known: Known) -> None:
    """Refuse clippings before sowing or after the last day known.

    Raises
    ------
    InputError
    """
    for one in measured:
        if _day(one.date) <= _day(sow):
            raise fault(
                "--measured",
                f"Nothing stands on {one.date}, the stand being sown on {sow}.",
                "Name a day after sowing.",
            )
        if _day(one.date) > _day(known.today):
            raise fault(
                "--measured",
                f"The clipping of {one.date} comes after {known.today}, the last day known.",
                "Name that day or an earlier one, or give --today.",
            )


def _day(date: str) -> int:
    return plans.day_number(plans.ANY_YEAR, date)


def _date(day: int) -> str:
    return plans.month_day_of(plans.ANY_YEAR, day)


def judge(
    years: Sequence[int], ends: Sequence[str], dates: Sequence[str], made: Values, happened: Values
) -> xr.Dataset:
    """Judge outlooks of past seasons by what came of them.

    Parameters
    ----------
    years : sequence of int
    ends, dates : sequence of str
        Ends of the stand; days up to which the weather was taken as known.
    made : array (year, date, other, end)
        Biomass of the outlooks [kg/ha]; others in the order of years, the year itself left out.
    happened : array (year, end)
        Biomass with the weather that the year had [kg/ha].

    Returns
    -------
    Dataset(date, end)
        ``width_kg_ha`` of the bands and ``usual_width_kg_ha`` of those of the other years as they
        were, both means; ``inside_percent`` with its Wilson interval; ``crps_kg_ha`` and
        ``usual_crps_kg_ha``; ``skill_percent``, by which the first is smaller; ``seasons``.
    """
    import xarray as xr

    n = len(years)
    low, _, high = band(made, axis=2)
    truth = happened[:, None, :]
    inside = ((truth >= low) & (truth <= high)).mean(axis=0)
    members = made.transpose(0, 1, 3, 2)
    score = crps(members, np.broadcast_to(truth, members.shape[:-1])).mean(axis=0)
    without = np.stack([np.delete(happened, place, axis=0) for place in range(n)])
    usual_low, _, usual_high = band(without, axis=1)
    usual_score = crps(without.transpose(0, 2, 1), happened).mean(axis=0)
    ends_of = np.array([[wilson(share, n) for share in row] for row in inside])
    shape = inside.shape
    with np.errstate(invalid="ignore", divide="ignore"):
        skill = np.where(usual_score > 0, 100 * (1 - score / usual_score), np.nan)
    columns: dict[str, tuple[Values, str, str]] = {
        "seasons": (np.full(shape, n), "1", "past seasons tried"),
        "width_kg_ha": ((high - low).mean(axis=0), "kg/ha", "mean width of the bands"),
        "usual_width_kg_ha": (
            np.broadcast_to((usual_high - usual_low).mean(axis=0), shape),
            "kg/ha",
            "the same of the other years as they were",
        ),
        "inside_percent": (100 * inside, "percent", "share of seasons inside their band"),
        "inside_low_percent": (100 * ends_of[..., 0], "percent", "lower end of its interval"),
        "inside_high_percent": (100 * ends_of[..., 1], "percent", "upper end of its interval"),
        "crps_kg_ha": (score, "kg/ha", "continuous ranked probability score"),
        "usual_crps_kg_ha": (
            np.broadcast_to(usual_score, shape),
            "kg/ha",
            "the same of the other years as they were",
        ),
        "skill_percent": (skill, "percent", "by how much the score is better than the usual's"),
    }
    return xr.Dataset(
        {
            name: (("date", "end"), values, {"units": unit, "long_name": meaning})
            for name, (values, unit, meaning) in columns.items()
        },
        coords={"date": list(dates), "end": list(ends)},
    )
