"""Changed weather as a chart: biomass and leaching before and after, on the same axes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared import changes as shared_changes
from simulator.answers.shared.fields import biomass_ranges, difference_ranges, in_a_field
from simulator.answers.whatif import calculate as advice
from simulator.answers.whatif.panels import Lines, by_sowing, nothing
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.season import cases
from simulator.show import wording
from simulator.show.charts import Axes, Chart, Row, axis_title, finish, ranged, scale, subject
from simulator.show.tables import NOTHING, apart, difference, mean, spread
from simulator.weather.change_text import parse_change

if TYPE_CHECKING:
    import xarray as xr

SIZE = (192, 215)  # of a panel [px]
FIGURES = 68  # room for an axis's figures, so that panels stand below each other [px]
CASES = (cases.RECORDED, cases.CHANGED)
DIFFERENCE = "changed less recorded"  # the third of the cases
_FIELDS = {
    "biomass": ("biomass_kg_ha", "biomass"),
    "leached": ("nitrate_leached_kg_ha", "nitrogen"),
}
_TITLES = {"biomass": "biomass", "leached": "nitrate N leached"}
_PARTS = ("", "_low", "_high")


def chart(
    grid: xr.Dataset,
    system: units.System,
    *,
    changes: Sequence[str] | None = None,
    errors: ModelErrors = SHIPPED,
    axes: Axes | None = None,
) -> Chart:
    """Draw biomass and leaching against nitrogen, as recorded, as changed, and the difference.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes. Of several seeding rates the first is drawn, of several ends
        the last; a line for each sowing, or for each time of nitrogen of the first sowing, and
        then the difference of every sowing below.
    system : {"us", "si"}
    changes : sequence of str, optional
        What was changed, as asked; as the grid has it without.
    errors : ModelErrors
        How far off the model is, for the ranges.
    axes : mapping, optional
        Domains of ``biomass``, ``leached``, their differences ``more_biomass`` and
        ``more_leached``, and ``nitrogen``.

    Returns
    -------
    Chart
    """
    import altair as alt

    part = advice.paired(grid).isel(seeding=0, end=-1)
    drawn = rows(grid, system, errors)
    told = _told(part)
    panels = [
        before_and_after(drawn, name, system, axes=axes, told=told, last=name == "leached")
        for name in _FIELDS
    ]
    if _by_timing(part) and part.sizes["sow"] > 1:
        of_sowings, rate = sowing_rows(part, system, errors)
        title = f"difference in biomass with {units.spell(rate, 'nitrogen', system)} of nitrogen"
        panels.append(by_sowing(of_sowings, system, title=title, axes=axes))
    shared = {"scale": {"color": "shared", "shape": "shared"}}
    laid = alt.vconcat(*panels, spacing=22, resolve=shared)
    return finish(laid, *headline(grid, system, changes, errors))


def headline(
    grid: xr.Dataset,
    system: units.System,
    changes: Sequence[str] | None = None,
    errors: ModelErrors = SHIPPED,
) -> tuple[list[str], list[str]]:
    """Say what the change does to biomass by the time of nitrogen, and to what nitrogen brings."""
    part = grid.isel(seeding=0, end=-1)
    texts = list(changes or str(grid.attrs.get("changes", "")).split("; "))
    read = [parse_change(text) for text in texts if text]
    found = advice.effects(part, read, errors)
    found = [one for one in found if np.isfinite(one.biomass.difference)]
    said = wording.join([shared_changes.describe(one, system) for one in read]) or "changed weather"
    years = part["year"].values.tolist()
    lines = f"Thick: {ranged(len(years))}. Thin, of biomass: in a field like these."
    below = [
        f"{subject(grid.attrs, years)} Seeded at "
        f"{units.spell(float(part['seeding']), 'mass', system)}, {_held(part)}, ended "
        f"{wording.ending(str(part['end'].values))}.",
        f"{'Means over falls. ' if len(years) > 1 else ''}{lines}",
    ]
    if not found:
        return [f"With {said}, no stand could be ended as planned"], below
    rate = advice.ordinary(found)
    chosen = [one for one in found if one.nitrogen == rate]
    first = chosen[0]
    later = [one for one in chosen if one.sow == first.sow and one.timing != first.timing][-1:]
    fed = (
        f"{units.spell(rate, 'nitrogen', system)} of nitrogen {wording.timing(first.timing)}"
        if rate > 0
        else "no nitrogen"
    )
    sentence = (
        f"With {said}, {grid.attrs['cereal']} sown {wording.dates_in(first.sow)} with {fed} makes "
        f"{_less(first.biomass, system)}"
    )
    if later:
        sentence += f"; given {wording.timing(later[0].timing)}, {_less(later[0].biomass, system)}"
    return [sentence], [_brought(first, later, system), *below]


def _less(pair: advice.Pair, system: units.System) -> str:
    """Spell by how much less biomass stands, as the two print."""
    side = "less" if pair.difference < 0 else "more"
    return f"{apart(pair.recorded, pair.changed, 'biomass', system)} {side}"


def _brought(first: advice.Effect, later: Sequence[advice.Effect], system: units.System) -> str:
    """Say what the nitrogen brings in either weather; without any what a field may differ by."""
    if first.applied <= 0:
        return in_a_field(first.differs, system)

    def brings(one: advice.Effect) -> str:
        return (
            f"{units.spell(one.gained.changed, 'biomass', system)} in place of "
            f"{units.spell(one.gained.recorded, 'biomass', system)}"
        )

    told = f"That nitrogen brings {brings(first)}"
    for one in later:
        told += f"; {wording.timing(one.timing)}, {brings(one)}"
    return f"{told}."


def _told(part: xr.Dataset) -> list[tuple[str, float]]:
    """Return the lines and rates whose differences are printed: those that the title tells."""
    found = [one for one in advice.effects(part) if np.isfinite(one.biomass.difference)]
    if not found:
        return []
    rate = advice.ordinary(found)
    first = next(one for one in found if one.nitrogen == rate)
    if not _by_timing(part):
        return [(wording.dates_in(first.sow), rate)]
    times = [one.timing for one in found if one.nitrogen == rate and one.sow == first.sow]
    return [(wording.timing(time), rate) for time in (times[0], times[-1])]


def _by_timing(part: xr.Dataset) -> bool:
    return bool(part.sizes["nitrogen_timing"] > 1)


def _held(part: xr.Dataset) -> str:
    """Name what all lines have in common: the sowing, or the time of nitrogen."""
    if _by_timing(part):
        return f"sown {wording.dates_in(str(part['sow'].values[0]))}"
    return f"nitrogen {wording.timing(str(part['nitrogen_timing'].values[0]))}"


def rows(grid: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED) -> list[Row]:
    """Return a row a line, case and rate, in the reader's units.

    Means over falls, their range (``_low``, ``_high``) and, of biomass, the range in a field like
    these (``_field_low``, ``_field_high``). The third case is the difference within the same fall,
    whose fields begin with ``more_``.
    """
    part = advice.paired(grid).isel(seeding=0, end=-1)
    if _by_timing(part):
        part, along = part.isel(sow=0), "nitrogen_timing"
    else:
        part, along = part.isel(nitrogen_timing=0), "sow"
    found = []
    for label in map(str, part[along].values):
        name = wording.timing(label) if along == "nitrogen_timing" else wording.dates_in(label)
        for rate in part["nitrogen"].values.tolist():
            at = part.sel({along: label, "nitrogen": rate})
            fixed: Row = {"line": name, "nitrogen": _shown(rate, "nitrogen", system)}
            fixed["rate"] = rate
            for case in CASES:
                found.append({**fixed, "case": case, **_case(at.sel(case=case), system, errors)})
            found.append({**fixed, "case": DIFFERENCE, **_difference(at, system, errors)})
    return found


def _case(at: xr.Dataset, system: units.System, errors: ModelErrors) -> Row:
    row: Row = {}
    for what, (field, kind) in _FIELDS.items():
        row |= _with_ends(what, at[field].values, kind, system)
    ranges = biomass_ranges(at["biomass_kg_ha"].values, error=errors.level)
    row["biomass_field_low"] = _shown(ranges.low, "biomass", system)
    row["biomass_field_high"] = _shown(ranges.high, "biomass", system)
    return row


def _difference(at: xr.Dataset, system: units.System, errors: ModelErrors) -> Row:
    """Return what the change makes more, and ``told`` as the two means print it."""
    row: Row = {}
    before, after = (at.sel(case=case) for case in CASES)
    for what, (field, kind) in _FIELDS.items():
        more = (after[field] - before[field]).values
        row |= _with_ends(f"more_{what}", more, kind, system)
        gap = difference(mean(before[field].values), mean(after[field].values), kind, system)
        row[f"more_{what}_told"] = f"{float(gap):+,.0f}" if gap != NOTHING else ""
        if what == "biomass":
            ranges = difference_ranges(more, errors.response)
            row["more_biomass_field_low"] = _shown(ranges.low, "biomass", system)
            row["more_biomass_field_high"] = _shown(ranges.high, "biomass", system)
    return row


def _with_ends(name: str, values: Any, kind: str, system: units.System) -> Row:
    numbers = (mean(values), *spread(values))
    return {
        f"{name}{part}": _shown(value, kind, system)
        for part, value in zip(_PARTS, numbers, strict=True)
    }


def _shown(value: float, kind: str, system: units.System) -> float | None:
    return float(units.show(value, kind, system)) if np.isfinite(value) else None


def before_and_after(
    rows: Sequence[Row],
    name: str,
    system: units.System,
    *,
    up: str = "",
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
    told: Sequence[tuple[str, float]] = (),
    last: bool = True,
) -> Chart:
    """Draw a quantity as recorded and as changed on the same axes, and the difference beside.

    Parameters
    ----------
    rows : sequence of dict
        From `rows`.
    name : {"biomass", "leached"}
    system : {"us", "si"}
    up : str
        Title of the vertical axis, without its unit.
    size : (int, int)
        Width and height of each of the three [px].
    axes : mapping, optional
        Domains of the quantity, of its difference, and of ``nitrogen``.
    told : sequence of (str, float)
        Lines, and rates [kg/ha], whose difference is printed.
    last : bool
        Whether the horizontal axis has its title.
    """
    import altair as alt

    drawn, kind = Lines(rows, system, size, axes), _FIELDS[name][1]
    title = axis_title(up or _TITLES[name], kind, system)
    widest = f"{name}_field" if name == "biomass" else name
    tops = [row[f"{widest}_high"] for row in rows if row.get(f"{widest}_high") is not None]
    still = scale(axes, name, domain=[0.0, max([*tops, 1e-9])])  # the same for both
    more, own = f"more_{name}", scale(axes, f"more_{name}", zero=True)

    def first(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=title, scale=still, axis={"minExtent": FIGURES})

    def second(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=None, scale=still, axis={"labelExpr": "' '"})

    def third(field: str) -> Any:
        label = axis_title("changed less recorded", kind, system)
        return alt.Y(f"{field}:Q", title=label, scale=own, axis={"minExtent": FIGURES})

    figures = [
        {**row, "told": row[f"{more}_told"]}
        for row in drawn.placed(DIFFERENCE)
        if (row["line"], row["rate"]) in told and row[more] is not None
    ]
    panels = [
        drawn.panel(case, name, axis, title=f"weather {case}", last=last)
        for case, axis in zip(CASES, (first, second), strict=True)
    ]
    last_panel = drawn.panel(DIFFERENCE, more, third, title="difference", last=last, told=figures)
    return alt.hconcat(*panels, alt.layer(nothing(third, more), last_panel), spacing=14)


def sowing_rows(
    part: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED
) -> tuple[list[Row], float]:
    """Return a row a sowing and time of nitrogen, at the rate spoken of, and that rate [kg/ha]."""
    found = [one for one in advice.effects(part) if np.isfinite(one.biomass.difference)]
    rate = advice.ordinary(found) if found else float(part["nitrogen"].values[0])
    rows = [
        {
            "sown": wording.dates_in(str(sow)),
            "line": wording.timing(str(timing)),
            **_difference(part.sel(sow=sow, nitrogen_timing=timing, nitrogen=rate), system, errors),
        }
        for sow in part["sow"].values
        for timing in part["nitrogen_timing"].values
    ]
    return rows, rate
