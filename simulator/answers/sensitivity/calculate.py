"""Which parameters an answer depends on: Sobol indices over their ranges."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.answers.sensitivity.indices import Array, Indices, indices
from simulator.parameters.bounded import BoundedSet
from simulator.parameters.cereals import Cereal
from simulator.parameters.fertilizers import Fertilizer
from simulator.parameters.soils import SOIL_TEST, PreviousCrop, Soil, layer_bottoms
from simulator.problems import InputError, Parameter, Problem, fault, parameters_named
from simulator.season import plan as plans
from simulator.season.arrays import empty_days
from simulator.season.day.calendar import BY_DATE
from simulator.season.day.loop import grow_members
from simulator.season.seasons import cut_seasons, latitude_of
from simulator.weather.fall_year import usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

Tick = Callable[[int], object]
Kind = Literal["cereal", "soil", "previous crop"]

OUTCOMES = ("biomass", "nitrate leached", "response to nitrogen")
SPREAD = 0.25  # of a default, to either side
MOST_PARAMETERS = 12  # that are looked at when none are named
MOST_FALLS = 5  # of a record, spread evenly; a mean over more changes little
SAMPLES = 256
MOST_SEASONS = 2_000_000  # some minutes
_CHUNK = 64  # parameter sets that a thread runs between two ticks


@dataclass(frozen=True, slots=True, kw_only=True)
class Varied:
    """A parameter that is varied.

    Parameters
    ----------
    kind : {"cereal", "soil", "previous crop"}
    name, unit : str
    default, low, high : float
    """

    kind: Kind
    name: str
    unit: str
    default: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What grows where: the sets whose parameters are varied, and one plan.

    Parameters
    ----------
    cereal, soil, previous_crop, fertilizer : parameter sets
    sow, end : str
        MM-DD.
    seeding, nitrogen : float
        [kg/ha]; the response is that to this nitrogen, at sowing.
    """

    cereal: Cereal
    soil: Soil
    previous_crop: PreviousCrop
    fertilizer: Fertilizer
    sow: str
    end: str
    seeding: float
    nitrogen: float

    def sets(self) -> dict[Kind, BoundedSet]:
        """Return the sets that are varied, by kind."""
        return {"cereal": self.cereal, "soil": self.soil, "previous crop": self.previous_crop}


def varied(
    field: Field,
    names: Sequence[str] | None = None,
    *,
    kinds: Sequence[Kind] = ("cereal", "soil", "previous crop"),
    spread: float = SPREAD,
) -> list[Varied]:
    """Set the ranges: a share of the default to either side, inside the bounds.

    Parameters
    ----------
    field : Field
    names : sequence of str, optional
        Parameters; all of the kinds without it.
    kinds : sequence of {"cereal", "soil", "previous crop"}
    spread : float
        Share of the default; a default of 0 is moved by half that share of its bounds' range.
        Water contents stop halfway to each other, so that they stay in order. Of a soil test
        only the nitrogen is varied, where one is given.

    Raises
    ------
    InputError
        A name that is no parameter of the kinds, or given twice; a spread outside 0.01 to 1.
    """
    if not 0.01 <= spread <= 1.0:
        raise fault(
            Parameter("spread"), f"{spread:g} is out of range.", "Take 0.01 to 1, such as 0.25."
        )
    soil = field.soil
    dry = 0.5 * (soil.wilting_point + soil.field_capacity)
    wet = 0.5 * (soil.field_capacity + soil.saturation)
    limits = {
        "wilting_point": (0.0, dry - 0.001),
        "field_capacity": (dry, wet - 0.001),
        "saturation": (wet, 1.0),
    }
    fixed = SOIL_TEST[1:] if field.previous_crop.tested else SOIL_TEST
    known: dict[str, Varied] = {}
    for kind, one in field.sets().items():
        for name, spec in one.specs().items() if kind in kinds else ():
            if name in fixed or (name == "organic_matter_gradient" and soil.at(0.0) is soil):
                continue  # a soil test is not given, organic matter was measured
            default = float(getattr(one, name))
            reach = spread * abs(default) or 0.5 * spread * (spec.high - spec.low)
            least, most = limits.get(name, (-np.inf, np.inf))
            known[name] = Varied(
                kind=kind,
                name=name,
                unit=spec.unit,
                default=default,
                low=max(default - reach, spec.low, least),
                high=min(default + reach, spec.high, most),
            )
    if names is None:
        return [one for one in known.values() if one.low < one.high]
    problems = [
        Problem(
            Parameter("only"),
            f"'{name}' is no parameter of the {', '.join(kinds)}.",
            f"Choose from: {', '.join(known)}.",
        )
        for name in names
        if name not in known
    ]
    problems += [
        Problem(Parameter("only"), f"'{name}' is given twice.")
        for name in set(names)
        if list(names).count(name) > 1
    ]
    if problems:
        raise InputError(problems)
    return [known[name] for name in names]


class SiteSeasons:
    """A record's seasons, cut once and run with many parameter sets.

    Parameters
    ----------
    record : Dataset(time)
    field : Field
    years : sequence of int, optional
        Fall years; without it those that can run, spread evenly over the record.
    falls : int, optional
        How many to spread; None for all.

    Raises
    ------
    InputError
        No season is whole.
    """

    def __init__(
        self,
        record: xr.Dataset,
        field: Field,
        years: Sequence[int] | None = None,
        falls: int | None = MOST_FALLS,
    ) -> None:
        filled = fill_short_gaps(checked(record))
        if years is None and falls is not None:
            whole, _ = usable_years(filled, field.sow, field.end)
            at = np.unique(np.linspace(0, len(whole) - 1, falls).round().astype(int))
            years = [whole[place] for place in at] if whole else None
        self.field = field
        self._latitude = latitude_of(filled)
        self._cut = cut_seasons(filled, years, [field.sow], [plans.end(field.end)])
        self.years = self._cut.years

    def outcomes(self, cereal: Cereal, soil: Soil, crop: PreviousCrop) -> Array:
        """Run every fall without and with nitrogen.

        Returns
        -------
        array (outcome,)
            Means over falls of biomass and nitrate leached with the nitrogen [kg/ha], and of the
            biomass that a kg of it brings [kg/kg].
        """
        cut, field, falls = self._cut, self.field, len(self.years)
        plant, ground = cereal.as_record(), soil.at(self._latitude)
        drivers = cut.drivers(self._latitude, plant)
        sow = np.array([plans.day_number(year, field.sow) for year in self.years])
        end = np.array([[plans.day_number(year, field.end)] for year in self.years])
        out = empty_days((2 * falls, 1))
        grow_members(
            drivers,
            cut.spans,
            0,
            2 * falls,
            np.repeat(np.arange(falls), 2),
            np.tile(np.arange(2), falls),
            np.column_stack([sow, sow]),
            np.full(2, field.seeding),
            np.repeat(sow, 2).reshape(falls, 2, 1),
            np.array([[0.0], [field.nitrogen]]),
            np.array([BY_DATE]),
            end,
            np.array([np.nan]),
            plant,
            ground.as_record(),
            crop.as_record(),
            field.fertilizer.as_record(),
            layer_bottoms(soil),
            out,
        )
        biomass = out["biomass_kg_ha"].reshape(falls, 2)
        leached = out["nitrate_leached_kg_ha"].reshape(falls, 2)
        gain = (biomass[:, 1] - biomass[:, 0]) / field.nitrogen
        return np.array([biomass[:, 1].mean(), leached[:, 1].mean(), gain.mean()])

    def of_sets(
        self, parameters: Sequence[Varied], values: Array, tick: Tick | None = None
    ) -> Array:
        """Run many parameter sets, shared over threads.

        Parameters
        ----------
        parameters : sequence of Varied
        values : array (parameter, set)
        tick : callable, optional
            Told how many sets are done since the last call.

        Returns
        -------
        array (outcome, set)
            The same to the bit for any number of threads.
        """
        out = np.empty((len(OUTCOMES), values.shape[1]))
        default, count = self.field.sets(), int(values.shape[1])

        def run(first: int) -> int:
            last = min(first + _CHUNK, count)
            for at in range(first, last):
                changed: dict[Kind, dict[str, Any]] = {kind: {} for kind in default}
                for one, value in zip(parameters, values[:, at], strict=True):
                    changed[one.kind][one.name] = float(value)
                out[:, at] = self.outcomes(
                    replace(self.field.cereal, **changed["cereal"]),
                    replace(self.field.soil, **changed["soil"]),
                    replace(self.field.previous_crop, **changed["previous crop"]),
                )
            return last - first

        with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
            for done in pool.map(run, range(0, count, _CHUNK)):
                if tick:
                    tick(done)
        return out


def screen(
    places: Mapping[str, SiteSeasons], parameters: Sequence[Varied], most: int = MOST_PARAMETERS
) -> list[Varied]:
    """Keep the parameters that move an outcome most when each alone goes to its ends.

    Parameters
    ----------
    places : mapping of str to SiteSeasons
    parameters : sequence of Varied
    most : int
        How many to keep.

    Returns
    -------
    list of Varied
        In the order given. Ranked by the largest of the shares, over places and outcomes, of the
        summed movements of all parameters.
    """
    default = np.array([one.default for one in parameters])
    values = np.repeat(default[:, None], 2 * len(parameters), axis=1)
    for at, one in enumerate(parameters):
        values[at, 2 * at : 2 * at + 2] = one.low, one.high
    shares = []
    for place in places.values():
        moved = place.of_sets(parameters, values).reshape(len(OUTCOMES), -1, 2)
        reach = np.ptp(moved, axis=2)
        shares.append(reach / np.maximum(reach.sum(axis=1, keepdims=True), 1e-12))
    rank = np.argsort(-np.max(shares, axis=(0, 1)), kind="stable")[:most]
    return [one for at, one in enumerate(parameters) if at in rank]


def sensitivity(
    places: Mapping[str, SiteSeasons],
    parameters: Sequence[Varied],
    *,
    samples: int = SAMPLES,
    seed: int = 1,
    tick: Tick | None = None,
) -> dict[str, Indices]:
    """Sobol indices of biomass, nitrate leached and the response to nitrogen, place by place.

    Parameters
    ----------
    places : mapping of str to SiteSeasons
    parameters : sequence of Varied
    samples : int
        A power of two.
    seed : int
        The same seed gives the same indices.
    tick : callable, optional
        Told how many parameter sets are done since the last call.

    Raises
    ------
    InputError
        As `indices`, or more than two million seasons.
    """
    seasons = sum(2 * len(p.years) for p in places.values()) * samples * (len(parameters) + 2)
    if seasons > MOST_SEASONS:
        raise fault(
            parameters_named("samples", "years", "only"),
            f"{seasons:,} seasons are asked for.",
            f"Ask for fewer: at most {MOST_SEASONS:,}.",
        )
    ranges = [(one.low, one.high) for one in parameters]
    return {
        name: indices(
            lambda values, place=place: place.of_sets(parameters, values, tick),  # type: ignore[misc]
            ranges,
            samples=samples,
            seed=seed,
        )
        for name, place in places.items()
    }
