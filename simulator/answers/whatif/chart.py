"""Changed weather as a chart: biomass and leaching before and after, on the same axes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared import changes as shared_changes
from simulator.answers.shared.fields import FIELD_BARS, biomass_ranges
from simulator.answers.whatif import calculate as advice
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.season import cases
from simulator.show import wording
from simulator.show.charts import (
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    finish,
    of_falls,
    scale,
    subject,
)
from simulator.show.tables import mean, spread
from simulator.weather.change_text import parse_change

if TYPE_CHECKING:
    import xarray as xr

SIZE = (300, 230)  # of a panel [px]
CASES = (cases.RECORDED, cases.CHANGED)
_FIELDS = {
    "biomass": ("biomass_kg_ha", "biomass"),
    "leached": ("nitrate_leached_kg_ha", "nitrogen"),
}
_TITLES = {"biomass": "biomass", "leached": "nitrate N leached"}


def chart(
    grid: xr.Dataset,
    system: units.System,
    *,
    changes: Sequence[str] | None = None,
    errors: ModelErrors = SHIPPED,
    axes: Axes | None = None,
) -> Chart:
    """Draw biomass and leaching against nitrogen, as recorded beside changed.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes. Of several seeding rates the first is drawn, of several ends
        the last; a line for each sowing, or for each time of nitrogen of the first sowing.
    system : {"us", "si"}
    changes : sequence of str, optional
        What was changed, as asked; as the grid has it without.
    errors : ModelErrors
        How far off the model is, for the ranges.
    axes : mapping, optional
        Domains of ``biomass``, ``leached`` and ``nitrogen``.

    Returns
    -------
    Chart
    """
    import altair as alt

    drawn = rows(grid, system, errors)
    panels = [panel for name in _FIELDS for panel in _panels(drawn, name, system, axes=axes)]
    return finish(alt.concat(*panels, columns=2, spacing=26), *headline(grid, system, changes))


def headline(
    grid: xr.Dataset, system: units.System, changes: Sequence[str] | None = None
) -> tuple[list[str], list[str]]:
    """Say what the change does to what nitrogen brings, or without nitrogen to biomass."""
    part = grid.isel(seeding=0, end=-1)
    texts = list(changes or str(grid.attrs.get("changes", "")).split("; "))
    read = [parse_change(text) for text in texts if text]
    found = [one for one in advice.effects(part, read) if np.isfinite(one.biomass.difference)]
    said = wording.join([shared_changes.describe(one, system) for one in read]) or "changed weather"
    years = part["year"].values.tolist()
    below = [
        f"{subject(grid.attrs, years)} {of_falls(len(years))} {FIELD_BARS}",
        f"Seeded at {units.spell(float(part['seeding']), 'mass', system)}, "
        f"{_held(part)}, ended {wording.ending(str(part['end'].values))}.",
    ]
    if not found:
        return [f"With {said}, no stand could be ended as planned"], below
    rate = advice.ordinary(found)
    chosen = [one for one in found if one.nitrogen == rate]
    first = chosen[0]
    sown = wording.dates_in(first.sow)

    def mass(value: float) -> str:
        return units.spell(value, "biomass", system)

    if first.applied <= 0:
        sentence = (
            f"{mass(first.biomass.changed)} of biomass, sown {sown}, in place of "
            f"{mass(first.biomass.recorded)}"
        )
        return [f"With {said}: {sentence}"], below

    def brings(one: advice.Effect) -> str:
        return f"{mass(one.gained.changed)} of biomass in place of {mass(one.gained.recorded)}"

    sown = f" sown {sown}" if len({one.sow for one in chosen}) > 1 else ""
    sentence = (
        f"With {said}, {units.spell(first.applied, 'nitrogen', system)} of nitrogen "
        f"{wording.timing(first.timing)} on {grid.attrs['cereal']}{sown} bring "
        f"{brings(first)}"
    )
    later = [one for one in chosen if one.sow == first.sow and one.timing != first.timing]
    if later:
        sentence += f"; {wording.timing(later[-1].timing)}, {brings(later[-1])}"
    return [sentence], below


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
    these (``_field_low``, ``_field_high``).
    """
    part = advice.paired(grid).isel(seeding=0, end=-1)
    if _by_timing(part):
        part, along = part.isel(sow=0), "nitrogen_timing"
    else:
        part, along = part.isel(nitrogen_timing=0), "sow"
    found = []
    for label in map(str, part[along].values):
        name = wording.timing(label) if along == "nitrogen_timing" else wording.dates_in(label)
        for case in CASES:
            for rate in part["nitrogen"].values.tolist():
                at = part.sel({along: label, "case": case, "nitrogen": rate})
                row: Row = {
                    "line": name,
                    "case": case,
                    "nitrogen": float(units.show(rate, "nitrogen", system)),
                }
                for what, (field, kind) in _FIELDS.items():
                    values = at[field].values
                    numbers = (mean(values), *spread(values))
                    for part_name, value in zip(("", "_low", "_high"), numbers, strict=True):
                        row[f"{what}{part_name}"] = _shown(value, kind, system)
                ranges = biomass_ranges(at["biomass_kg_ha"].values, error=errors.level)
                row["biomass_field_low"] = _shown(ranges.low, "biomass", system)
                row["biomass_field_high"] = _shown(ranges.high, "biomass", system)
                found.append(row)
    return found


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
) -> Chart:
    """Draw a quantity as recorded and as changed, side by side on the same axes.

    Parameters
    ----------
    rows : sequence of dict
        ``line, case, nitrogen``, and of the quantity the mean and ``_low, _high``.
    name : {"biomass", "leached"}
    system : {"us", "si"}
    up : str
        Title of the vertical axis, without its unit.
    size : (int, int)
        Width and height of each of the two [px].
    axes : mapping, optional
        Domains of the quantity and of ``nitrogen``.
    """
    import altair as alt

    panels = _panels(rows, name, system, up=up, size=size, axes=axes)
    return alt.hconcat(*panels, spacing=20)


def _panels(
    rows: Sequence[Row],
    name: str,
    system: units.System,
    *,
    up: str = "",
    size: tuple[int, int] = SIZE,
    axes: Axes | None = None,
) -> list[Chart]:
    import altair as alt

    lines = list(dict.fromkeys(row["line"] for row in rows))
    kind = _FIELDS[name][1]
    title = axis_title(up or _TITLES[name], kind, system)
    widest = f"{name}_field" if name == "biomass" else name
    tops = [row[f"{widest}_high"] for row in rows if row[f"{widest}_high"] is not None]
    # the same for both
    still = scale(axes, name, domain=[0.0, max([*tops, 1e-9])], nice=True)
    encodings = distinguish("line", lines, title=_legend(lines), shapes=True)
    dashed = distinguish("line", lines, dashes=True)["strokeDash"]
    dashed.legend = None
    rates = sorted({row["nitrogen"] for row in rows})
    # bars of lines beside each other, by little, so that none hides another
    shift = 0.012 * (rates[-1] or 1.0)
    placed = [
        {**row, "at": row["nitrogen"] + shift * (lines.index(row["line"]) - len(lines) / 2 + 0.5)}
        for row in rows
    ]
    x: Any = alt.X(
        "at:Q",
        title=axis_title("nitrogen", "nitrogen", system),
        scale=scale(axes, "nitrogen", nice=False, domain=[-0.05 * rates[-1], 1.05 * rates[-1]]),
    )
    if len(rates) < 2:  # nothing to draw a line along: the lines stand beside each other
        x = alt.X("line:O", sort=lines, title=_legend(lines), axis=alt.Axis(labelAngle=0))
        for encoding in encodings.values():
            encoding.legend = None

    def panel(case: str, *, first: bool) -> Any:
        named = title if first else None
        own = [row for row in placed if row["case"] == case]
        base = alt.Chart(data(own), width=size[0], height=size[1], title=f"weather {case}").encode(
            x=x, color=encodings["color"]
        )
        wide = base.mark_rule(strokeWidth=1.0, opacity=0.45).encode(
            y=alt.Y(f"{widest}_low:Q", title=named, scale=still), y2=f"{widest}_high:Q"
        )
        bars = base.mark_rule(strokeWidth=3.5, opacity=0.45).encode(
            y=alt.Y(f"{name}_low:Q", title=named, scale=still), y2=f"{name}_high:Q"
        )
        y = alt.Y(f"{name}:Q", title=named, scale=still)
        drawn = base.mark_line(strokeWidth=2.4).encode(y=y, strokeDash=dashed)
        points = base.mark_point(filled=True, size=75, opacity=1).encode(
            y=y, shape=encodings["shape"]
        )
        return alt.layer(wide, bars, drawn, points)

    return [panel(case, first=at == 0) for at, case in enumerate(CASES)]


def _legend(lines: Sequence[str]) -> str:
    return (
        "nitrogen"
        if any("at sowing" in line or line.startswith("on ") for line in lines)
        else "sown"
    )
