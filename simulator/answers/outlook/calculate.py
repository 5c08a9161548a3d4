"""The season under way: weather up to today, then the remainder of every other year."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.outlook.clipped import Clipped, clipped
from simulator.answers.outlook.hindcast import judge
from simulator.answers.outlook.known_weather import Known, check_measured, known_weather
from simulator.answers.outlook.remainders import Values, season_blocks, splice
from simulator.answers.outlook.sampled_soil import share_above
from simulator.answers.shared.few_falls import FEWEST
from simulator.parameters import cereals, fertilizers, soils
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.problems import fault
from simulator.season import plan as plans
from simulator.season.compiling import Announce
from simulator.season.ensemble import DatedPlan, grow_seasons
from simulator.season.labels import ITS_WEATHER, of_record
from simulator.season.measured import Measured
from simulator.season.seasons import days_used, irrigation_of, latitude_of
from simulator.weather.fall_year import keep_filled, season_day, usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import NAMES, fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

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
        What measurements say of it, if any are told.
    errors : ModelErrors
        How far off the model is.
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
    errors: ModelErrors = SHIPPED


class Seasons:
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
            "irrigation": irrigation_of(record),
            "cereal": _parameter_set(field.get("cereal", "rye"), cereals.cereal),
            "soil": _parameter_set(field.get("soil", "sandy loam"), soils.soil),
            "previous_crop": _parameter_set(
                field.get("previous_crop", "cotton"), soils.previous_crop
            ),
            "fertilizer": _parameter_set(
                field.get("fertilizer", "ammonium nitrate"), fertilizers.fertilizer
            ),
        }

    def grow(self, year: int, weather: Values) -> Values:
        """Biomass (season, date) of seasons on the calendar of a year [kg/ha]."""
        stand = DatedPlan(year=year, first=self.first_day(year, weather), **self.about)
        columns = (np.ascontiguousarray(weather[:, c]) for c in range(len(NAMES) + 1))
        grown = grow_seasons(stand, *columns, announce=self.announce)
        return np.asarray(grown["biomass_kg_ha"][:, 0])

    def first_day(self, year: int, weather: Values) -> int:
        """Season day from which the weather is whole: the soil starts then."""
        sowing = plans.day_number(year, self.sow)
        before = ~np.isfinite(weather[:, : len(NAMES), :sowing]).all(axis=(0, 1))
        first = int(np.flatnonzero(before)[-1]) + 1 if before.any() else 0
        return max(first, min(plans.day_number(year, plans.SOIL_STARTS), sowing))

    def clipped(
        self,
        known: Known,
        measured: Sequence[Measured],
        ends: Sequence[str],
        past: Sequence[str],
        **more: Any,
    ) -> Clipped:
        """Work out what the season may still make, told measurements."""
        at = self.years.index(known.year)
        others = [place for place in range(len(self.years)) if place != at]
        names = [self.years[place] for place in others]
        now = plans.day_number(known.year, known.today)
        weather = splice(self.blocks[at], self.blocks[others], known.year, names, now)
        first = self.first_day(known.year, weather)
        return clipped(self.about, known.year, weather, first, measured, ends, past, **more)

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


def _parameter_set(given: Any, look_up: Any) -> Any:
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
    measured: Sequence[Measured] = (),
    errors: ModelErrors = SHIPPED,
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
    measured : sequence of Measured
        What was measured of the stand, from sowing to today.
    errors : ModelErrors
        How far off the model is.
    announce : callable, optional
        As in `compare`.

    Returns
    -------
    Outlook

    Raises
    ------
    InputError
        Fewer than `FEWEST` other years; what `known_weather` and `check_measured` find.
    """
    record = fill_short_gaps(checked(record))
    sow = plan["sow"]
    ends = sorted(ends, key=plans.order)
    timing = plans.dressings(plan["nitrogen_timing"])
    plans.check_order([sow], [timing], [plans.end(end) for end in ends])
    known = known_weather(record, sow, ends[-1], year, today)
    now = plans.order(known.today)
    check_measured(measured, sow, known)
    over = [end for end in ends if plans.order(sow) < plans.order(end) <= now]
    kept_ends = over if measured else ()  # with a sample, what the field had then is shown
    left_out = [
        f"end {end}: not after {known.today}"
        for end in ends
        if plans.order(end) <= now and end not in kept_ends
    ]
    ends = [end for end in ends if plans.order(end) > now]
    others, reasons = _others(
        record, known, plans.date_at(min(plans.order(sow), now + 1)), ends[-1], years
    )
    left_out += reasons
    weekly = [plans.date_at(day) for day in range(plans.order(sow) + 7, plans.order(ends[-1]), 7)]
    dates = sorted({*weekly, *ends}, key=plans.order)
    seasons = Seasons(record, plan, field, dates, [*others, known.year], announce)
    fan, paths = _spread_out(seasons, known, others, ends)
    at = [dates.index(end) for end in ends]
    happened = [seasons.happened(y)[at] for y in others]
    tried = sorted({*TRIED, known.today}, key=plans.order)
    tried = [day for day in tried if plans.order(sow) < plans.order(day) < plans.order(ends[-1])]
    hindcast = None
    if with_hindcast and tried and len(others) > FEWEST:
        past = Seasons(record, plan, field, ends, others, announce)
        made = np.stack([past.outlooks(y, tried) for y in others])
        hindcast = judge(others, ends, tried, made, np.stack(happened))
    return Outlook(
        known=known,
        others=others,
        fan=fan,
        paths=paths,
        hindcast=hindcast,
        left_out=left_out,
        usual=np.stack(happened, axis=1),
        attrs=_attrs(record, plan, seasons.about, (known.year, *others), ends[-1]),
        clipped=_weighed_by_samples(seasons, record, plan, known, measured, ends, over, errors),
        errors=errors,
    )


def _weighed_by_samples(
    seasons: Seasons,
    record: xr.Dataset,
    plan: Mapping[str, str],
    known: Known,
    measured: Sequence[Measured],
    ends: Sequence[str],
    over: Sequence[str],
    errors: ModelErrors,
) -> Clipped | None:
    """Weigh drawn fields by what was measured, if anything was."""
    if not measured:
        return None
    shares = [share_above(record, plan, seasons.about, known.year, one) for one in measured]
    return seasons.clipped(known, measured, ends, over, shares=shares, error=errors.level)


def _others(
    record: xr.Dataset, known: Known, first: str, last: str, years: Sequence[int] | None
) -> tuple[tuple[int, ...], list[str]]:
    """Return the falls whose remainders can be used, and why others cannot.

    Raises
    ------
    InputError
        They are fewer than `FEWEST`.
    """
    usable, reasons = usable_years(record, first, last, years)
    others = tuple(y for y in usable if y != known.year)
    if len(others) < FEWEST:
        raise fault(
            f"weather of {record.attrs.get('site', 'this site')}",
            f"An outlook needs at least {FEWEST} other falls; the weather has {len(others)} that "
            "can be used.",
            "Give a longer record.",
        )
    return others, [f"{y}: {why}" for y, why in reasons.items() if y != known.year]


def _spread_out(
    seasons: Seasons, known: Known, others: Sequence[int], ends: Sequence[str]
) -> tuple[xr.Dataset, xr.Dataset]:
    """Grow the season with the remainders of others: at its ends as of each date, and by date."""
    import xarray as xr

    sow, dates, now = seasons.sow, seasons.dates, plans.order(known.today)
    back = [day for day in LOOKED_BACK if plans.order(sow) < plans.order(day) < now]
    grown = seasons.outlooks(known.year, [*back, known.today])
    at = [dates.index(end) for end in ends]
    as_of = [str(season_day(known.year, day)) for day in (*back, known.today)]
    fan = xr.Dataset(
        {"biomass_kg_ha": (("as_of", "end", "other"), grown[:, :, at].transpose(0, 2, 1))},
        coords={"as_of": as_of, "end": list(ends), "other": list(others)},
    )
    time = np.array([season_day(known.year, day) for day in dates]).astype("datetime64[ns]")
    paths = xr.Dataset(
        {"biomass_kg_ha": (("time", "other"), grown[-1].T)},
        coords={"time": time, "other": list(others)},
    )
    return fan, paths


def _attrs(
    record: xr.Dataset,
    plan: Mapping[str, str],
    about: Mapping[str, Any],
    years: Sequence[int],
    last: str,
) -> dict[str, Any]:
    """Say where it comes from, named as the attributes of a season are: of the first year."""
    record = keep_filled(record, days_used(years, plan["sow"], last))
    attrs = of_record(record, ITS_WEATHER)
    attrs |= {name: about[name].name for name in ("cereal", "soil", "previous_crop", "fertilizer")}
    attrs["variety"] = about["cereal"].variety
    return attrs | {
        "sow": plan["sow"],
        "seeding_kg_ha": about["seeding"],
        "nitrogen_kg_ha": about["rates"][0],
        "nitrogen_timing": plan["nitrogen_timing"],
        "year": years[0],
    }
