"""Plans beside bare soil: the same field in the same fall, without a stand and without nitrogen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator import units
from simulator.season.compare import BARE, BARE_FIELDS
from simulator.season.layout import NOTHING, BareSoil, read_bare
from simulator.show import wording
from simulator.show.output import ROW_VARIABLES, grid_rows
from simulator.show.tables import FEWEST_FOR_SHARES, number, span, spread

if TYPE_CHECKING:
    import xarray as xr

Values = NDArray[Any]

NAME = "bare soil"  # in tables
LEACHED, DRAINED = "nitrate_leached_kg_ha", "drainage_mm"
UNTRIED_NITRATE = (
    "The model's nitrate, leached or in the soil, has not been tried against measurements, so that "
    "how far it is off is not known"
)
WHERE = "docs/bare-soil.md"
UNTRIED = f"{UNTRIED_NITRATE}; bare soil here has no weeds and no volunteers ({WHERE})."
ALIKE = 0.05  # kg/ha of nitrogen or mm of water that is no difference
NO_ROW = ("nitrogen_percent", "carbon_to_nitrogen")  # of nothing


def kind_of(about: Mapping[str, Any]) -> BareSoil:
    """Return the kind of bare soil that a grid, by its attributes, has beside its plans."""
    return read_bare(str(about.get("bare_soil", "bare"))) or BareSoil()


def described(about: Mapping[str, Any], system: units.System) -> str:
    """Say what bare soil is, to stand between commas: ``"without a stand and without nitrogen"``.

    Parameters
    ----------
    about : mapping
        Attributes of a grid: ``bare_soil``, where it is of another kind, and ``cereal``.
    system : {"us", "si"}
    """
    kind = kind_of(about)
    if kind.volunteers:
        seed = units.spell(kind.volunteers, "mass", system)
        return (
            f"but for volunteer {about.get('cereal', 'cereal')} ({seed} of seed that comes up with "
            "the first sowing) and without nitrogen"
        )
    if kind.residue is None:
        return "without a stand and without nitrogen"
    left = units.spell(kind.residue, "mass", system)
    return (
        f"under {left} of the last crop's residue in September, without a stand and without "
        "nitrogen"
    )


def about_bare(about: Mapping[str, Any], system: units.System) -> str:
    """Say below a table what bare soil is, and what a difference from it holds."""
    plain = kind_of(about) == BareSoil()
    lies = " on which the old crop's residue lies as it does under the stands" if plain else ""
    return (
        f"Bare soil is the same field in the same fall {described(about, system)}"
        f"{f',{lies}' if lies else ''}: with nitrogen, the difference is that of the stand and of "
        "its nitrogen together. The range over the falls is the weather's alone."
    )


def untried(about: Mapping[str, Any]) -> str:
    """Say that how far off the nitrate is, is not known, and what bare soil leaves out."""
    return f"{UNTRIED_NITRATE} ({WHERE})." if kind_of(about).volunteers else UNTRIED


@dataclass(frozen=True, slots=True)
class Beside:
    """A quantity under a plan and on bare soil, within the same falls.

    Parameters
    ----------
    years : tuple of int
        Falls in which both are known.
    planted, bare : array (fall,)
    """

    years: tuple[int, ...]
    planted: Values
    bare: Values

    @property
    def less(self) -> Values:
        """By how much it is less under the plan, fall by fall; below zero where it is more."""
        return np.asarray(self.bare - self.planted)

    @property
    def mean(self) -> float:
        """Mean of that."""
        return float(self.less.mean())

    @property
    def falls_less(self) -> int:
        """In how many falls it is less under the plan."""
        return int((self.less > ALIKE).sum())

    @property
    def percent(self) -> float:
        """What it is less as a share of bare soil's mean [percent]; NaN of nothing."""
        of_bare = float(self.bare.mean())
        return 100.0 * self.mean / of_bare if of_bare > 0.0 else float("nan")

    def row(self, name: str, unit: str) -> dict[str, float | int]:
        """Return it as fields of a row: ``leached_less_mean_kg_ha`` and the others."""
        low, high = spread(self.less)
        return {
            "falls": len(self.years),
            "falls_less": self.falls_less,
            f"{name}_less_mean_{unit}": self.mean,
            f"{name}_less_percent": self.percent,
            f"weather_{name}_less_low_{unit}": low,
            f"weather_{name}_less_high_{unit}": high,
            f"bare_{name}_mean_{unit}": float(self.bare.mean()),
        }


def beside(years: Sequence[int], planted: Values, bare: Values) -> Beside | None:
    """Set a plan beside bare soil in the falls in which both are known; None where none is."""
    known = np.isfinite(planted) & np.isfinite(bare)
    if not known.any():
        return None
    falls = tuple(int(year) for year, there in zip(years, known, strict=True) if there)
    return Beside(falls, planted[known], bare[known])


@dataclass(frozen=True, slots=True)
class Leached:
    """Nitrate leached under a sowing date with its nitrogen, beside bare soil.

    Parameters
    ----------
    sow, end : str
    nitrogen : float
        [kg/ha].
    beside : Beside
        A mean over seeding rates and timings, in each fall [kg/ha].
    """

    sow: str
    nitrogen: float
    end: str
    beside: Beside

    def row(self) -> dict[str, Any]:
        """Return it as a row for JSON, SI."""
        return {
            "sow": self.sow,
            "nitrogen_kg_ha": self.nitrogen,
            "end": self.end,
            **self.beside.row("leached", "kg_ha"),
        }


def bare_leached(grid: xr.Dataset, end: str) -> Values:
    """Return what bare soil leaches to an end, fall by fall [kg/ha]; NaN where it is no date."""
    return np.asarray(grid[f"{BARE}{LEACHED}"].sel(end=end).values)


def bare_drained(grid: xr.Dataset, end: str) -> Values:
    """Return what drains below bare soil to an end, fall by fall [mm]."""
    return np.asarray(grid[f"{BARE}{DRAINED}"].sel(end=end).values)


def has_bare(grid: xr.Dataset) -> bool:
    """Say whether a grid has bare soil beside its plans, on one of its ends."""
    name = f"{BARE}{LEACHED}"
    return name in grid and bool(grid[name].notnull().any())


def leached_less(grid: xr.Dataset) -> list[Leached]:
    """Return what each sowing date with its nitrogen leaches less than bare soil.

    Parameters
    ----------
    grid : Dataset
        From `compare` with ``bare``; without it there is none.

    Returns
    -------
    list of Leached
        By end, sowing and rate; none for ends that are no dates.
    """
    if not has_bare(grid):
        return []
    years = grid["year"].values.tolist()
    over = [name for name in ("variety", "seeding", "nitrogen_timing") if name in grid.dims]
    planted = grid[LEACHED].mean(over, skipna=False)
    found = []
    for end in grid["end"].values:
        bare = bare_leached(grid, str(end))
        for sow in grid["sow"].values:
            for rate in grid["nitrogen"].values:
                of_plan = planted.sel(end=end, sow=sow, nitrogen=rate).values
                one = beside(years, of_plan, bare)
                if one is not None:
                    found.append(Leached(str(sow), float(rate), str(end), one))
    return found


def beside_each_row(grid: xr.Dataset, names: Sequence[str]) -> xr.Dataset:
    """Return some variables of a grid, and what bare soil leaches and drains beside each plan."""
    found = grid[list(names)]
    if not has_bare(grid):
        return found
    for name in (f"{BARE}{LEACHED}", f"{BARE}{DRAINED}"):
        found[name] = grid[name].broadcast_like(found[names[0]]).assign_attrs(grid[name].attrs)
    return found


def bare_rows(grid: xr.Dataset) -> list[dict[str, Any]]:
    """Return bare soil as rows with the fields of a plan: cereal and sowing ``none``, biomass 0.

    Parameters
    ----------
    grid : Dataset
        From `compare` with ``bare`` and without changes.
    """
    if not has_bare(grid):
        return []
    bare = grid[[f"{BARE}{name}" for name in BARE_FIELDS if name in ROW_VARIABLES]]
    bare = bare.rename({name: str(name).removeprefix(BARE) for name in bare.data_vars})
    there = bare["end"].values[bare[LEACHED].notnull().any("year").values]
    bare = bare.sel(end=there)[["year", "end", *bare.data_vars]]
    bare = bare.assign_attrs(
        cereal=NOTHING, sow=NOTHING, seeding_kg_ha=0.0, nitrogen_kg_ha=0.0, nitrogen_timing=NOTHING
    )
    nothing = {
        name: (None if name in NO_ROW else False if name == "stand_alive" else 0.0)
        for name in ROW_VARIABLES
        if name not in bare
    }
    found = []
    for row in grid_rows(bare):
        labels = {name: value for name, value in row.items() if name not in ROW_VARIABLES}
        both = {**row, **nothing}
        found.append({**labels, **{name: both[name] for name in ROW_VARIABLES}})
    return found


def within(falls: int) -> str:
    """Say of how many falls a range is: ``"in 8 of 10 falls"``."""
    return "in 8 of 10 falls" if falls >= FEWEST_FOR_SHARES else f"in all {falls} falls"


def amount(value: float, kind: str, system: units.System, what: str = "") -> str:
    """Spell how much less something is: ``"12 lb/ac less"``, ``"0.3 in more water"``."""
    if float(number(abs(value), kind, system)) == 0.0:
        return f"as much {what}".rstrip()
    side = "less" if value > 0.0 else "more"
    return f"{units.spell(abs(value), kind, system)} {side} {what}".rstrip()


def range_less(one: Beside, kind: str, system: units.System) -> str:
    """Spell the range over falls of what is less, and in how many it is; empty for one fall.

    ``" (5 more to 20 less in 8 of 10 falls; less in 21 of 30)"``.
    """
    falls = len(one.years)
    if falls < 2:
        return ""
    low, high = spread(one.less)
    first, second = (number(abs(end), kind, system) for end in (low, high))
    if low < 0.0 < high and float(first) and float(second):
        between = f"{first} more to {second} less"
    elif abs(high) >= abs(low):
        between = f"{first} to {second} less"
    else:
        between = f"{second} to {first} more"
    return f" ({between} {within(falls)}; less in {one.falls_less} of {falls})"


def over_falls_less(one: Beside, kind: str, system: units.System) -> list[str]:
    """Print the range over falls of what is less, and in how many it is: two cells."""
    return [span(spread(one.less), kind, system), f"{one.falls_less} of {len(one.years)}"]


def bare_sentence(grid: xr.Dataset, system: units.System) -> str:
    """Say what bare soil leaches to the last dated end, and that nothing was sown or spread."""
    bare = grid[f"{BARE}{LEACHED}"]
    end = [str(e) for e in grid["end"].values if bare.sel(end=e).notnull().any()][-1]
    known = bare.sel(end=end).values
    known = known[np.isfinite(known)]
    low, high = (number(one, "nitrogen", system) for one in spread(known))
    over = f" as a mean over falls ({low} to {high} {within(known.size)})"
    return (
        f"Bare soil, {described(grid.attrs, system)}, leaches "
        f"{units.spell(float(known.mean()), 'nitrogen', system)} of nitrate nitrogen from "
        f"September to {wording.dates_in(end)}{over if known.size > 1 else ''}."
    )


def this_stand(one: Beside | None, system: units.System) -> str:
    """Say what bare soil would have leached and this stand less, in a sentence; empty for None."""
    if one is None:
        return ""
    leached = units.spell(float(one.bare.mean()), "nitrogen", system)
    return (
        f"Bare soil would have leached {leached}; this stand "
        f"{amount(one.mean, 'nitrogen', system)}{range_less(one, 'nitrogen', system)}. "
        f"{UNTRIED_NITRATE}."
    )


def less_sentences(found: Sequence[Leached], system: units.System) -> list[str]:
    """Say of each sowing date what it leaches less than bare soil with least and most nitrogen.

    Of the last of the ends.
    """
    if not found:
        return []
    last = [one for one in found if one.end == found[-1].end]
    rates = [one.nitrogen for one in last]
    texts = []
    for rate in sorted({min(rates), max(rates)}):
        with_n = (
            f"with {units.spell(rate, 'nitrogen', system)} of nitrogen (bare soil has none)"
            if rate
            else "without nitrogen"
        )
        parts = [_of_sowing(one, system) for one in last if one.nitrogen == rate]
        texts.append(
            f"Beside bare soil of the same fall, a stand {with_n} leaches by "
            f"{wording.dates_in(last[0].end)}: {'; '.join(parts)}."
        )
    return texts


def _of_sowing(one: Leached, system: units.System) -> str:
    return (
        f"sown {wording.dates_in(one.sow)}, {amount(one.beside.mean, 'nitrogen', system)}"
        f"{range_less(one.beside, 'nitrogen', system)}"
    )
