"""What a date of ending leaves, as tables: what grows back, seed, and nitrogen after planting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING
from simulator.answers.shared.regrowth import left_alive
from simulator.answers.timing.data import stages_of
from simulator.answers.timing.seed import seed_on
from simulator.parameters.terminations import SEED, Way
from simulator.show import wording
from simulator.show.charts import ranged
from simulator.show.tables import NOTHING, Column, over_falls, paragraph, plain_number, table

if TYPE_CHECKING:
    import xarray as xr


def left_tables(found: xr.Dataset, way: Way, system: units.System) -> list[str]:
    """Print a row a date: what grows back, in how many falls seed is set, nitrogen by week."""
    printed = [_regrowth_table(found, way), paragraph(_regrowth_notes(found, way))]
    if "planting_released_0_days_kg_ha" in found:
        printed += [_nitrogen_table(found, system), paragraph(_nitrogen_notes(found))]
    return printed


def _regrowth_table(found: xr.Dataset, way: Way) -> str:
    seeds = "seed_set" in found
    rows = []
    for end in map(str, found["end"].values):
        at = found.sel(end=end)
        left, seed = left_alive(stages_of(at), way), seed_on(at)
        share, low, high = (
            plain_number(100.0 * one) for one in (left.share, left.share_low, left.share_high)
        )
        row = [
            wording.dates_in(end),
            share if share == NOTHING else f"{share} ({low}-{high})",
            f"{left.falls_poor} of {left.falls}" if left.falls else NOTHING,
        ]
        if seed is not None:
            row += [
                f"{seed.possible_in} of {seed.falls}",
                f"{seed.set_in} of {seed.falls}",
                plain_number(100.0 * seed.chance),
            ]
        rows.append(row)
    columns = [
        Column("ended", left=True),
        Column(f"{way.name}:\ngrows back", "%"),
        Column("over a\ntenth", "falls"),
    ]
    if seeds:
        columns += [
            Column("seed may\nbe viable", "falls"),
            Column("seed\nset", "falls"),
            Column("chance in\na field", "%"),
        ]
    return table(columns, rows)


def _regrowth_notes(found: xr.Dataset, way: Way) -> str:
    texts = [
        f"Grows back: the share of the stand that lives on where it is {way.name}, a mean over "
        "falls; in brackets the range of trials. What grows on is not simulated: it shades and "
        "takes water and nitrogen as before."
    ]
    if "seed_set" in found:
        texts.append(
            f"Seed may be viable from the milk stage on (Zadoks {SEED.milk_stage:.0f}) and is "
            f"taken as set {SEED.days_after_heading:.0f} days after heading; the chance in a field "
            f"like these also holds that the model's heading was {SEED.heading_off:.0f} days off "
            "(docs/skill.md)."
        )
    return " ".join(texts)


def _nitrogen_table(found: xr.Dataset, system: units.System) -> str:
    names = [f"planting_released_{after}_days_kg_ha" for after in AFTER_PLANTING]
    rows = [
        [
            wording.dates_in(str(end)),
            *(over_falls(found[name].sel(end=end).values, "nitrogen", system) for name in names),
        ]
        for end in found["end"].values
    ]
    day, unit = wording.dates_in(str(found.attrs["planting"])), units.label("nitrogen", system)
    whens = [f"on {day}", *(f"{after // 7} weeks\nlater" for after in AFTER_PLANTING[1:])]
    titles = [f"N freed\n{whens[0]}", *whens[1:]]
    return table([Column("ended", left=True), *(Column(title, unit) for title in titles)], rows)


def _nitrogen_notes(found: xr.Dataset) -> str:
    falls = found.sizes["year"]
    spread = f", means over the falls with {ranged(falls)} in brackets" if falls > 1 else ""
    return (
        f"Nitrogen that decay of shoots and roots has freed since the end{spread}; below zero it "
        "is tied up, where the soil has so much. The range is the weather's alone: how far off the "
        "model's decay is in a field has not been tried. It is no fertilizer rate."
    )
