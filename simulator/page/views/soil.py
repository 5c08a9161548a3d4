"""The soil column through one season: nitrate and water by depth, the roots, day by day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.field_ranges import biomass_ranges, how_far_off, spelled
from simulator.page.classroom.season import usual_year
from simulator.page.downloads import command_of
from simulator.page.growing import Array, Changes, weather
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.page.rows import FIRST_TRIED, nice
from simulator.page.sown import Sown
from simulator.page.views.plan_link import PlanView, quiet, shared_payload
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError, fault
from simulator.season.one_season import run_season
from simulator.show import wording
from simulator.show.cautions import EMERGED
from simulator.show.csv_table import table_text
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

KEPT = 16
# depth of soil over which nitrate is told [cm], and what that is called
SLICES: dict[units.System, tuple[float, str]] = {"us": (30.48, "foot"), "si": (10.0, "10 cm")}
MOST_DRAWN = 60.0  # percent of the soil's volume that is water, where the axis ends


def on_day(text: str) -> str:
    """Check the day to look at, MM-DD; nothing said is the last."""
    if text and not (len(text) == 5 and text[2] == "-" and (text[:2] + text[3:]).isdigit()):
        raise fault("day", f"'{text[:40]}' is not a day.", "Write 12-15.")
    return text


OWN = {"day": on_day}


@dataclass(frozen=True)
class Column:
    """A season in the soil, day by day.

    Parameters
    ----------
    asked : Question
    place : PlaceWeather
    year : int
        Fall year.
    days : Dataset(time)
        Of `run_season`.
    field_capacity, wilting_point : float
        Shares of the soil's volume.
    """

    asked: Question
    place: PlaceWeather
    year: int
    days: xr.Dataset
    field_capacity: float
    wilting_point: float

    @property
    def bottoms(self) -> Array:
        """Depths of the layers' bottoms [cm]."""
        return np.asarray(self.days["bottom_cm"].values)

    @property
    def thick(self) -> Array:
        """Thickness of the layers [cm]."""
        return np.diff(self.bottoms, prepend=0.0)

    def of(self, name: str) -> Array:
        """Return a field by day, or by day and layer."""
        return np.asarray(self.days[name].values)

    @property
    def rain(self) -> Array:
        """Rain and snow of each day [mm]."""
        return np.diff(self.of("rain_mm"), prepend=0.0)

    def below_roots(self) -> Array:
        """Nitrate nitrogen that lies deeper than the roots reach, by day [kg/ha].

        Of a layer that roots have entered in part, the part below them.
        """
        tops = self.bottoms - self.thick
        depth = self.of("root_depth_cm")[:, None]
        share = np.clip((self.bottoms - depth) / (self.bottoms - tops), 0.0, 1.0)
        return np.asarray((share * self.of("nitrate_by_layer_kg_ha")).sum(axis=1))


def find(asked: Question, place: PlaceWeather, own: dict[str, str]) -> Column:
    """Grow a plan through one fall.

    Raises
    ------
    InputError
        The fall cannot be grown.
    """
    year = usual_year(place) if asked.year is None else asked.year
    if year not in place.years:
        raise fault("year", f"The weather has no whole fall of {year}.", "Choose another fall.")
    try:
        days = _grown(place, asked.plan, asked.changes, year)
    except InputError as error:
        if any(str(one.where) == "weather" for one in error.problems):
            what = str(error.problems[0].what)
            raise fault("year", what, "Choose another fall, or other dates.") from error
        raise
    ground = asked.plan.field()[0]
    return Column(asked, place, year, days, ground.field_capacity, ground.wilting_point)


@lru_cache(KEPT)
def _grown(place: PlaceWeather, plan: Sown, changes: Changes, year: int) -> xr.Dataset:
    ground, crop, _ = plan.field()
    record = weather(place, changes)
    return run_season(
        record, plan.plan(), soil=ground, previous_crop=crop, year=year, announce=quiet
    )


def sentences(column: Column) -> list[str]:
    """Say what stood and what had leached on the last day."""
    system, plan = column.asked.system, column.asked.plan
    last = column.days.isel(time=-1)
    made = float(last["biomass_kg_ha"])
    end = f"{wording.ending(plan.end)} {column.year + 1}"
    sown = f"{plan.cereal.capitalize()} sown on {wording.dates_in(plan.sow)} {column.year}"
    if float(last["growth_stage_zadoks"]) < EMERGED:
        stands = f"{sown} has not come up {end}."
    elif not float(last["stand_alive"]):
        stands = f"{sown} is killed by frost before it is ended {end}."
    else:
        in_field = spelled(biomass_ranges(np.array([made])), "biomass", system)
        stands = (
            f"{sown} stands at {units.spell(made, 'biomass', system)} {end}; in a field like "
            f"these it is {in_field}."
        )
    return [stands, day_said(column, -1), how_far_off(system)]


def day_said(column: Column, at: int) -> str:
    """Say how deep the roots are on a day, and how much nitrate is below them or gone."""
    return days_said(column)[at]


def days_said(column: Column) -> list[str]:
    """Say the same of every day."""
    system = column.asked.system
    gone, held = column.of("nitrate_leached_kg_ha"), column.of("soil_nitrate_kg_ha")
    below, roots = column.below_roots(), column.of("root_depth_cm")
    deep = units.spell(float(column.bottoms[-1]), "depth", system)
    texts = []
    for at, day in enumerate(column.days["time"].values.astype("datetime64[D]").tolist()):
        spelled_of = [
            units.spell(float(one[at]), "nitrogen", system) for one in (gone, held, below)
        ]
        when = f"By {day:%b} {day.day} {day.year}"
        leached = (
            f"{when}, {spelled_of[0]} of nitrate nitrogen has leached below the soil, which is "
            f"{deep} deep"
        )
        if roots[at] <= 0.0:
            texts.append(f"{leached}; it still holds {spelled_of[1]}, and no roots are there yet.")
            continue
        texts.append(
            f"{leached}; of the {spelled_of[1]} still in it {spelled_of[2]} lies below the roots, "
            f"which reach {units.spell(float(roots[at]), 'depth', system)}."
        )
    return texts


def payload(column: Column, own: dict[str, str]) -> dict[str, Any]:
    """Return all that the view shows, day by day."""
    system = column.asked.system
    first, *rest = sentences(column)
    days = column.days["time"].values.astype("datetime64[D]")
    slice_cm, of_slice = SLICES[system]
    nitrate = column.of("nitrate_by_layer_kg_ha") / column.thick * slice_cm
    percent = column.of("water_by_layer_mm") / column.thick * 10.0

    def shown(values: Any, kind: str, digits: int) -> Any:
        return np.round(units.show(values, kind, system), digits).tolist()

    made = column.of("biomass_kg_ha")
    in_field = np.quantile(LEVEL.in_fields(made), (0.1, 0.9), axis=-1)
    tried = days >= season_day(column.year, FIRST_TRIED)
    return {
        **shared_payload(column.asked, column.place, {**own, "year": str(column.year)}),
        "first": first,
        "rest": rest,
        "years": list(column.place.years),
        "dates": days.astype(str).tolist(),
        "said": days_said(column),
        "bottoms": shown(column.bottoms, "depth", 1),
        "roots": shown(column.of("root_depth_cm"), "depth", 1),
        "reach": [units.spell(float(one), "depth", system) for one in column.of("root_depth_cm")],
        "nitrate": shown(nitrate, "nitrogen", 1),
        "water": np.round(percent, 1).tolist(),
        "held": [100.0 * column.wilting_point, 100.0 * column.field_capacity],
        "rain": shown(column.rain, "rain", 2),
        "leached": shown(column.of("nitrate_leached_kg_ha"), "nitrogen", 1),
        "biomass": shown(made, "biomass", 0),
        "in_field": [shown(end[tried], "biomass", 0) for end in in_field],
        "tried": int(np.flatnonzero(tried)[0]) if tried.any() else len(days),
        "sown": int((season_day(column.year, column.asked.plan.sow) - days[0]).astype(int)),
        "layers": _layers(column),
        "tops": {
            "nitrate": nice(_most(nitrate, "nitrogen", system)),
            "water": MOST_DRAWN,
            "rain": nice(_most(column.rain, "rain", system)),
            "leached": nice(_most(column.of("nitrate_leached_kg_ha"), "nitrogen", system)),
            "biomass": nice(_most(in_field[:, tried] if tried.any() else made, "biomass", system)),
        },
        "units": {
            "depth": units.label("depth", system),
            "nitrate": f"{units.label('nitrogen', system)} in each {of_slice}",
            "nitrogen": units.label("nitrogen", system),
            "rain": units.label("rain", system),
            "biomass": units.label("biomass", system),
        },
        "command": command_of("season", column.asked, column.place, year=str(column.year)),
    }


def _most(values: Any, kind: str, system: units.System) -> float:
    return 1.02 * float(units.show(float(np.max(values)), kind, system))


def _layers(column: Column) -> list[str]:
    """Name the layers by their depths: ``"0 to 4"``, in the reader's unit."""
    digits = 1 if column.asked.system == "us" else 0
    edges = [float(units.show(one, "depth", column.asked.system)) for one in column.bottoms]
    return [
        f"{top:.{digits}f} to {bottom:.{digits}f}"
        for top, bottom in zip([0.0, *edges[:-1]], edges, strict=True)
    ]


def table(column: Column) -> str:
    """Return the days as CSV, in SI: nitrate and water of each layer beside what goes on above."""
    ends = [f"{bottom:g}_cm" for bottom in column.bottoms.tolist()]
    layered = {
        name: column.of(field)
        for name, field in (
            ("nitrate_kg_ha_to", "nitrate_by_layer_kg_ha"),
            ("water_mm_to", "water_by_layer_mm"),
        )
    }
    below = column.below_roots()
    rows = [
        {
            "date": str(day),
            "rain_mm": float(column.rain[at]),
            "biomass_kg_ha": float(column.of("biomass_kg_ha")[at]),
            "root_depth_cm": float(column.of("root_depth_cm")[at]),
            "nitrate_below_roots_kg_ha": float(below[at]),
            "nitrate_leached_kg_ha": float(column.of("nitrate_leached_kg_ha")[at]),
            **{
                f"{name}_{end}": float(values[at, layer])
                for name, values in layered.items()
                for layer, end in enumerate(ends)
            },
        }
        for at, day in enumerate(column.days["time"].values.astype("datetime64[D]"))
    ]
    about = shared_payload(column.asked, column.place, {})
    note = "nitrate is nitrogen; each layer is named by the depth of its bottom"
    return table_text(
        {"plan": str(about["in_words"]), "fall": str(column.year), "note": note}, rows
    )


VIEW = PlanView("soil", OWN, find, payload, table, rows="days")
