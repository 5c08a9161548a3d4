"""What a plot table leaves out: the stated defaults, put in and told."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from simulator import units
from simulator.parameters import cereals, fertilizers, soils
from simulator.parameters.soils import PreviousCrop
from simulator.problems import InputError, Problem
from simulator.trials.plot_columns import BY_NAME
from simulator.trials.plot_parsing import Reading, fall_year

SPRING_DRESSING = "02-15"
FALL_DRESSING_DAYS = 5  # after sowing: trials spread fall nitrogen within about ten days of it
DEFAULT_SEEDING = "90 lb/acre"
DEFAULT_FERTILIZER = "ammonium nitrate"
_CHOICES = {
    "cereal": cereals.cereal,
    "soil": soils.soil,
    "previous_crop": soils.previous_crop,
    "fertilizer": fertilizers.fertilizer,
}


def with_defaults(reading: Reading, table: pd.DataFrame) -> pd.DataFrame:
    """Put the stated defaults where nothing was given, and tell them."""
    seeding = units.parse(DEFAULT_SEEDING, "kg/ha", name="seeding")
    _default(reading, table, "seeding_kg_ha", seeding, f"{DEFAULT_SEEDING.replace('acre', 'ac')}")
    _default(reading, table, "nitrogen_fall_kg_ha", 0.0, "none")
    _default(reading, table, "nitrogen_spring_kg_ha", 0.0, "none")
    _default(reading, table, "cereal", "rye", "rye")
    _latitudes(reading, table)
    _soil_tests(reading, table)
    fed = (table["nitrogen_fall_kg_ha"] + table["nitrogen_spring_kg_ha"] > 0).to_numpy()
    kinds = table["fertilizer"].str.lower().to_numpy()
    for row in np.flatnonzero(fed & (kinds == "none")):
        reading.add(
            int(row),
            "fertilizer",
            "It says none, but nitrogen is given.",
            "Write the kind, or nitrogen 0.",
        )
    table["fertilizer"] = table["fertilizer"].mask(
        np.isin(kinds, ("none", "mineral")), DEFAULT_FERTILIZER
    )
    if (table["fertilizer"] == "").any():
        _default(reading, table, "fertilizer", DEFAULT_FERTILIZER, DEFAULT_FERTILIZER)
    for name, choose in _CHOICES.items():
        _looked_up(reading, table, name, choose)
    table["year"] = fall_year(table["sown"])
    undated = table["spring_nitrogen_date"].isna()
    mid_february = pd.to_datetime((table["year"] + 1).astype(str) + f"-{SPRING_DRESSING}")
    table["spring_nitrogen_date"] = table["spring_nitrogen_date"].where(~undated, mid_february)
    sowing = table["fall_nitrogen_date"].isna()
    after_sowing = table["sown"] + pd.Timedelta(days=FALL_DRESSING_DAYS)
    table["fall_nitrogen_date"] = table["fall_nitrogen_date"].where(~sowing, after_sowing)
    texts = [
        text
        for rate, dated, text in (
            (
                "nitrogen_fall_kg_ha",
                sowing,
                f"fall nitrogen is taken to go on {FALL_DRESSING_DAYS} days after sowing",
            ),
            ("nitrogen_spring_kg_ha", undated, "spring nitrogen in mid-February (02-15)"),
        )
        if (dated & (table[rate] > 0)).any()
    ]
    if texts:
        text = " and ".join(texts)
        reading.notes.append(f"{text[0].upper()}{text[1:]}, where no date is given.")
    return table


def _looked_up(
    reading: Reading, table: pd.DataFrame, name: str, choose: Callable[[str], Any]
) -> None:
    """Put the set's own name where a row has one of its names; each name is looked up once."""
    known: dict[str, str] = {"": ""}
    wrong: dict[str, Problem] = {}
    for text in table[name].unique():
        try:
            known[text] = choose(text).name if text else ""
        except InputError as error:
            wrong[text] = error.problems[0]
    for row in np.flatnonzero(table[name].isin(list(wrong))):
        problem = wrong[table[name].iloc[row]]
        reading.add(int(row), name, problem.what, problem.remedy)
    table[name] = [known.get(text, text) for text in table[name]]


def _latitudes(reading: Reading, table: pd.DataFrame) -> None:
    """Put the latitude of a site's other rows where a cell is blank."""
    blank = table["latitude"].isna()
    others = table.groupby("site")["latitude"].transform("median")
    if (filled := blank & others.notna()).any():
        sites = ", ".join(map(str, table.loc[filled, "site"].unique()))
        count = "1 row" if filled.sum() == 1 else f"{int(filled.sum())} rows"
        reading.notes.append(
            f"The latitude is blank in {count}: that of the site's other rows is taken ({sites})."
        )
        table["latitude"] = table["latitude"].where(~filled, others)


def _soil_tests(reading: Reading, table: pd.DataFrame) -> None:
    """Say what was measured of the soil, and how deep where nobody says."""
    if (has := table["organic_matter_percent"].notna()).any():
        sites = ", ".join(map(str, table.loc[has, "site"].unique()))
        reading.notes.append(f"The soil's organic matter is what was measured: {sites}.")
    tested = table["mineral_nitrogen_at_sowing_kg_ha"].notna()
    if not tested.any():
        return
    where = "" if tested.all() else f" in {int(tested.sum())} of {len(table)} rows; the others "
    where += "" if tested.all() else "go on from what the previous crop leaves"
    reading.notes.append(
        f"The soil's mineral nitrogen is set to what was measured, on the day of sowing{where}."
    )
    shallow = tested & table["mineral_nitrogen_depth_cm"].isna()
    if shallow.any():
        depth = PreviousCrop().soil_test_depth
        some = "" if shallow[tested].all() else f" in {int(shallow.sum())} rows"
        reading.notes.append(
            f"No depth of the mineral nitrogen is given{some}: {depth:g} cm is taken."
        )
        table.loc[shallow, "mineral_nitrogen_depth_cm"] = depth


def _default(reading: Reading, table: pd.DataFrame, name: str, value: Any, text: str) -> None:
    missing = table[name].isna() | (table[name] == "")
    if missing.any():
        where = "" if missing.all() else f" in {int(missing.sum())} of {len(table)} rows"
        plain = BY_NAME[name].plain.replace("_", " ")
        reading.notes.append(f"No {plain} is given{where}: {text} is taken.")
        table[name] = table[name].where(~missing, value)
