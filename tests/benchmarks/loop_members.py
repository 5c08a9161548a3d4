"""Members for the day loop: seasons of the packaged samples, many plans each."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from itertools import product
from typing import Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.season.day.calendar import BY_BIOMASS, BY_DATE, BY_STAGE
from simulator.season.day.drivers import DAYS, season_drivers
from simulator.season.day.loop import grow_members
from simulator.season.day.record import DAY
from simulator.weather.fall_year import season_day
from simulator.weather.samples import sample_weather

SEPTEMBER, MAY = 62, 334  # season days of 1 September and of the end of May
WATERED = 114  # 23 October
SOWINGS = np.array([105, 112, 120, 128, 136, 142, 150, 160])
RATES = (0.0, 34.0, 67.0, 101.0, 135.0)  # kg/ha
SEEDINGS = (70.0, 100.0)  # kg/ha


@dataclass(frozen=True)
class Members:
    """Everything `grow_members` reads but the range of members, in its order."""

    drivers: np.ndarray[Any, Any]
    spans: np.ndarray[Any, Any]
    seasons: np.ndarray[Any, Any]
    plans: np.ndarray[Any, Any]
    sow_days: np.ndarray[Any, Any]
    seedings: np.ndarray[Any, Any]
    dressing_days: np.ndarray[Any, Any]
    dressing_amounts: np.ndarray[Any, Any]
    end_kinds: np.ndarray[Any, Any]
    end_days: np.ndarray[Any, Any]
    end_values: np.ndarray[Any, Any]
    cereals: np.ndarray[Any, Any]
    soils: np.ndarray[Any, Any]
    previous_crops: np.ndarray[Any, Any]
    fertilizers: np.ndarray[Any, Any]
    bottoms: np.ndarray[Any, Any]

    @property
    def count(self) -> int:
        return self.seasons.size

    @property
    def member_days(self) -> int:
        """Days that the loop runs: to the last end where all are dates."""
        first = self.spans[self.seasons, 0]
        return int((self.end_days[self.seasons].max(axis=1) - first + 1).sum())

    def take(self, count: int) -> Members:
        """The first members, thinned so that all seasons and plans stay in."""
        chosen = np.linspace(0, self.count - 1, count).astype(int)
        return replace(self, seasons=self.seasons[chosen], plans=self.plans[chosen])

    def room(self) -> np.ndarray[Any, Any]:
        """Output that nothing has been written to: NaN."""
        out = np.empty((self.count, self.end_kinds.size), DAY)
        out.view(np.float64)[...] = np.nan
        return out

    def arguments(self, low: int, high: int, out: np.ndarray[Any, Any]) -> tuple[Any, ...]:
        """The arguments of `grow_members`."""
        drivers, spans, *rest = (getattr(self, field.name) for field in fields(self))
        return (drivers, spans, low, high, *rest, out)


def grown(members: Members) -> np.ndarray[Any, Any]:
    """The compiled loop's answer."""
    out = members.room()
    grow_members(*members.arguments(0, members.count, out))
    return out


def sample_members(
    sample: str = "tallow-bend",
    *,
    cereal: str = "rye",
    soil: str = "sandy loam",
    previous_crop: str = "cotton",
    fertilizer: str = "ammonium nitrate",
    dressings: tuple[tuple[int | None, float], ...] = ((None, 1.0),),
    years: int = 29,
    layers: int | None = None,
    open_ends: bool = False,
    watered: float = 0.0,
) -> Members:
    """Every sowing, rate and seeding in every fall of a packaged sample.

    Parameters
    ----------
    dressings : tuple of (season day, or None at sowing; share of the rate)
    open_ends : bool
        Also end by growth stage and by biomass, some of it never reached; seasons then differ
        in length, too.
    watered : float
        Irrigation on a day in October [mm].
    """
    record = sample_weather(sample)
    times = record["time"].values.astype("datetime64[D]")
    starts = [season_day(year, "07-01") for year in range(1996, 1996 + years)]
    cut = [slice(at := int((start - times[0]).astype(int)), at + DAYS) for start in starts]
    tmax, tmin, rain = (
        np.stack([record[name].values[days] for days in cut]).astype(float)
        for name in ("tmax", "tmin", "rain")
    )
    irrigation = np.zeros_like(rain)
    irrigation[:, WATERED] = watered
    day_of_year = np.stack(
        [(times[d] - times[d].astype("datetime64[Y]")).astype(int) + 1.0 for d in cut]
    )
    spans = np.array([[SEPTEMBER, MAY]] * len(cut))
    end_days = np.array([[258, 288, 304]] * len(cut))  # middle of March, April, and 1 May
    end_kinds = np.full(3, BY_DATE)
    end_values = np.full(3, np.nan)
    if open_ends:
        spans += np.arange(len(cut))[:, None] % 3 * [7, -5]
        end_days = np.array([[288, -1, -1, -1]] * len(cut))
        end_kinds = np.array([BY_DATE, BY_STAGE, BY_BIOMASS, BY_BIOMASS])
        end_values = np.array([np.nan, 31.0, 3000.0, 40000.0])

    latitude = float(record.attrs["latitude"])
    ground = soils.soil(soil).at(latitude)
    kind = cereals.cereal(cereal).as_record()
    combos = list(product(SOWINGS, SEEDINGS, RATES))
    sow_days = np.array([[sowing for sowing, *_ in combos]] * len(cut))
    return Members(
        drivers=season_drivers(
            tmax, tmin, rain, day_of_year, latitude, spans, kind, irrigation=irrigation
        ),
        spans=spans,
        seasons=np.repeat(np.arange(len(cut)), len(combos)),
        plans=np.tile(np.arange(len(combos)), len(cut)),
        sow_days=sow_days,
        seedings=np.array([seeding for _, seeding, _ in combos]),
        dressing_days=np.stack(
            [sow_days if when is None else np.full_like(sow_days, when) for when, _ in dressings],
            axis=-1,
        ),
        dressing_amounts=np.array([[rate * part for _, part in dressings] for *_, rate in combos]),
        end_kinds=end_kinds,
        end_days=end_days,
        end_values=end_values,
        cereals=kind,
        soils=ground.as_record(),
        previous_crops=soils.previous_crop(previous_crop).as_record(),
        fertilizers=fertilizers.fertilizer(fertilizer).as_record(),
        bottoms=soils.layer_bottoms(ground, layers),
    )
