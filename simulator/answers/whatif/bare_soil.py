"""What bare soil leaches in the weather as recorded and changed, beside the plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.bare_soil import (
    NAME,
    Leached,
    about_bare,
    amount,
    bare_leached,
    bare_rows,
    described,
    has_bare,
    leached_less,
    over_falls_less,
    range_less,
    untried,
)
from simulator.answers.shared.field_ranges import OVER_FALLS
from simulator.answers.whatif.calculate import paired
from simulator.season.cases import CHANGED, RECORDED
from simulator.show import wording
from simulator.show.tables import NOTHING, Column, number, paragraph, table

if TYPE_CHECKING:
    import xarray as xr

CASES = (RECORDED, CHANGED)


@dataclass(frozen=True, slots=True)
class InBoth:
    """A sowing date with its nitrogen beside bare soil, as recorded and as changed.

    Parameters
    ----------
    recorded, changed : Leached
    """

    recorded: Leached
    changed: Leached


def bare_means(grid: xr.Dataset, end: str) -> tuple[float, float] | None:
    """Return what bare soil leaches as recorded and as changed [kg/ha]; None where it has none.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes and with ``bare``.
    end : str
    """
    if not has_bare(grid):
        return None
    both = np.array([bare_leached(grid.sel(case=case), end) for case in CASES])
    known = np.isfinite(both).all(axis=0)
    if not known.any():
        return None
    first, second = both[:, known].mean(axis=1)
    return float(first), float(second)


def beside(grid: xr.Dataset) -> list[InBoth]:
    """Set each sowing date and rate beside bare soil in both kinds of weather.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes and with ``bare``. Falls are those that count elsewhere in the
        answer; seeding rates and timings are averaged within the fall.
    """
    if not has_bare(grid):
        return []
    shown = paired(grid)
    recorded, changed = (leached_less(shown.sel(case=case)) for case in CASES)
    after = {(one.sow, one.nitrogen, one.end): one for one in changed}
    return [
        InBoth(one, after[at])
        for one in recorded
        if (at := (one.sow, one.nitrogen, one.end)) in after
    ]


def sentences(grid: xr.Dataset, rate: float, system: units.System) -> list[str]:
    """Say what the change makes of bare soil, and of what a stand with a rate leaches less.

    Parameters
    ----------
    grid : Dataset
        As for `beside`; of several ends the last is spoken of.
    rate : float
        Nitrogen [kg/ha].
    system : {"us", "si"}
    """
    last = str(grid["end"].values[-1])
    means, found = bare_means(grid, last), beside(grid.sel(end=[last]))
    if means is None or not found:
        return []
    before, after = means
    end = wording.dates_in(last)
    first = (
        f"Bare soil, {described(grid.attrs, system)}, then leaches "
        f"{units.spell(after, 'nitrogen', system)} of nitrate nitrogen from September to {end}, "
        f"in place of {units.spell(before, 'nitrogen', system)} as recorded."
    )
    of_rate = [one for one in found if one.changed.nitrogen == rate and rate > 0.0]
    none = [one for one in found if one.changed.nitrogen == 0.0]
    texts = [first, *filter(None, (_less(one, system) for one in (none, of_rate)))]
    return [*texts, untried(grid.attrs)]


def _less(found: list[InBoth], system: units.System) -> str:
    """Say what stands with a rate leach less than bare soil in the changed weather."""
    if not found:
        return ""
    rate = found[0].changed.nitrogen
    with_n = (
        f"with {units.spell(rate, 'nitrogen', system)} of nitrogen, of which bare soil has none,"
        if rate
        else "without nitrogen"
    )
    parts = [
        f"sown {wording.dates_in(one.changed.sow)}, "
        f"{amount(one.changed.beside.mean, 'nitrogen', system)}"
        f"{range_less(one.changed.beside, 'nitrogen', system)}, as recorded "
        f"{amount(one.recorded.beside.mean, 'nitrogen', system)}"
        for one in (found[0], *found[-1:])[: len(found)]
    ]
    return (
        f"Beside bare soil of the same fall and weather, a stand {with_n} leaches then: "
        f"{'; '.join(parts)}."
    )


def row_of(means: tuple[float, float] | None, system: units.System) -> list[list[str]]:
    """Return bare soil's row of the table of leaching; none where it has none."""
    if means is None:
        return []
    cells = [number(value, "nitrogen", system) for value in means]
    return [[NAME, number(0.0, "nitrogen", system), *cells, NOTHING, NOTHING]]


def tables(grid: xr.Dataset, system: units.System) -> list[str]:
    """Print what each plan leaches less than bare soil, as recorded beside changed."""
    found = beside(grid)
    if not found:
        return []
    several_falls = grid.sizes["year"] > 1
    nitrogen = units.label("nitrogen", system)
    columns = [Column("sown", left=True), Column("N", nitrogen)]
    for case in ("as re-\ncorded", "changed"):
        columns.append(Column(f"less,\n{case}", nitrogen))
        columns += [Column(OVER_FALLS, nitrogen), Column("less\nin falls")] if several_falls else []
    laid = []
    for end in dict.fromkeys(one.changed.end for one in found):
        rows = []
        for one in (one for one in found if one.changed.end == end):
            cells = [
                wording.dates_in(one.changed.sow),
                number(one.changed.nitrogen, "nitrogen", system),
            ]
            for of_case in (one.recorded.beside, one.changed.beside):
                cells.append(number(of_case.mean, "nitrogen", system))
                cells += over_falls_less(of_case, "nitrogen", system) if several_falls else []
            rows.append(cells)
        title = (
            "Nitrate nitrogen leached less than by bare soil of the same fall and weather, ended "
            f"{wording.ending(end)}:"
        )
        laid.append(f"{paragraph(title)}\n\n{table(columns, rows)}")
    return [*laid, paragraph(about_bare(grid.attrs, system))]


def json_rows(grid: xr.Dataset) -> dict[str, list[dict[str, Any]]]:
    """Return bare soil, and what plans leach less, as rows of each case."""
    bare: list[dict[str, Any]] = []
    less: list[dict[str, Any]] = []
    if has_bare(grid):
        for case in CASES:
            bare += [{**row, "case": case} for row in bare_rows(grid.sel(case=case, drop=True))]
            shown = paired(grid).sel(case=case, drop=True)
            less += [{**one.row(), "case": case} for one in leached_less(shown)]
    return {"bare_soil": bare, "less_than_bare_soil": less}
