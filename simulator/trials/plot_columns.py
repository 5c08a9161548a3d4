"""Columns of a plot table: what each is called, its unit and the range it may lie in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simulator import units
from simulator.parameters.soils import PreviousCrop, Soil
from simulator.season.plan import NITROGEN_RANGE, SEEDING_RANGE
from simulator.weather.files.columns import pint_powers

_BRACKETED = re.compile(r"^(.*?)[(\[{]([^()\[\]{}]*)[)\]}]\s*$", re.DOTALL)
_LONGEST = 80  # characters of a header cell that is looked at
# units that may follow a name without brackets, as in biomass_kg_ha
_SUFFIXES = {
    "kg_ha": "kg/ha",
    "lb_ac": "lb/acre",
    "lb_acre": "lb/acre",
    "lbs_ac": "lb/acre",
    "lbs_acre": "lb/acre",
    "g_m2": "g/m2",
    "mg_ha": "Mg/ha",
    "t_ha": "t/ha",
}
_LENGTHS = {"cm": "cm", "inch": "inch", "inches": "inch", "in": "inch"}
US_UNITS = ("acre", "ac")


@dataclass(frozen=True, slots=True)
class Known:
    """A column that a plot table may have.

    Parameters
    ----------
    name : str
        In the table that comes out.
    kind : {"text", "date", "number"}
    unit : str
        Of a number, inside; empty for none.
    low, high : float
        Range of a number.
    needed : bool
        Whether the header must have it.
    other_names : tuple of str
        What else people call it; its plain name is `name` without the unit.
    """

    name: str
    kind: str = "text"
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    needed: bool = False
    other_names: tuple[str, ...] = ()

    @property
    def plain(self) -> str:
        """The name without its unit."""
        return self.name.removesuffix("_kg_ha").removesuffix("_cm")

    @property
    def write(self) -> str:
        """What to write in a header."""
        if self.unit == "kg/ha":
            return f"{self.plain} (lb/acre) or {self.name}"
        if self.unit == "cm":
            return f"{self.plain} (inch) or {self.name}"
        return self.name


_SOIL_TEST = PreviousCrop.specs()
_ORGANIC = Soil.specs()["organic_matter"]
COLUMNS = (
    Known("site", needed=True, other_names=("location", "place", "station")),
    Known("latitude", "number", "", 0.0, 66.0, other_names=("lat",)),
    Known("longitude", "number", "", -180.0, 180.0, other_names=("lon", "long")),
    Known(
        "sown",
        "date",
        needed=True,
        other_names=("sowing", "sowing_date", "planted", "planting_date", "seeded"),
    ),
    Known(
        "sampled",
        "date",
        needed=True,
        other_names=("sampling", "sampling_date", "harvested", "harvest_date", "cut"),
    ),
    Known("seeding_kg_ha", "number", "kg/ha", *SEEDING_RANGE, other_names=("seeding_rate",)),
    Known(
        "nitrogen_fall_kg_ha",
        "number",
        "kg/ha",
        *NITROGEN_RANGE,
        other_names=("fall_nitrogen", "fall_n", "n_fall"),
    ),
    Known(
        "nitrogen_spring_kg_ha",
        "number",
        "kg/ha",
        *NITROGEN_RANGE,
        other_names=("spring_nitrogen", "spring_n", "n_spring"),
    ),
    Known("fertilizer"),
    Known("plots", "number", "", 1.0, 10_000.0, other_names=("replicates", "reps")),
    Known(
        "biomass_kg_ha", "number", "kg/ha", 0.0, 40_000.0, needed=True, other_names=("dry_matter",)
    ),
    Known(
        "biomass_sd_kg_ha",
        "number",
        "kg/ha",
        0.0,
        40_000.0,
        other_names=("biomass_standard_deviation",),
    ),
    Known(
        "carbon_to_nitrogen",
        "number",
        "",
        5.0,
        200.0,
        other_names=("c_n", "c_to_n", "cn", "cn_ratio"),
    ),
    Known(
        "nitrogen_percent",
        "number",
        "percent",
        0.1,
        8.0,
        other_names=("nitrogen", "n", "n_percent", "plant_nitrogen"),
    ),
    Known("block", other_names=("blk", "replicate_block")),
    Known("whole_plot", other_names=("main_plot", "wholeplot", "mainplot")),
    Known("growth_stage_zadoks", "number", "", 0.0, 99.0, other_names=("zadoks", "growth_stage")),
    Known("cereal", other_names=("species", "crop")),
    Known("soil", other_names=("texture", "soil_texture")),
    Known("previous_crop"),
    Known("fall_nitrogen_date", "date"),
    Known("spring_nitrogen_date", "date"),
    Known(
        "mineral_nitrogen_at_sowing_kg_ha",
        "number",
        "kg/ha",
        _SOIL_TEST["soil_test_nitrogen"].low,
        _SOIL_TEST["soil_test_nitrogen"].high,
        other_names=("mineral_nitrogen",),
    ),
    Known(
        "mineral_nitrogen_depth_cm",
        "number",
        "cm",
        _SOIL_TEST["soil_test_depth"].low,
        _SOIL_TEST["soil_test_depth"].high,
    ),
    Known(
        "organic_matter_percent",
        "number",
        "percent",
        _ORGANIC.low,
        _ORGANIC.high,
        other_names=("organic_matter", "soil_organic_matter"),
    ),
)
BY_NAME = {known.name: known for known in COLUMNS}
_CALLED = {
    name: known for known in COLUMNS for name in (known.name, known.plain, *known.other_names)
}
EXAMPLE = "site,latitude,sown,sampled,biomass (lb/acre)"


def recognise(header: str) -> tuple[Known | None, str]:
    """Say which column a header cell names and the unit in it.

    Parameters
    ----------
    header : str
        As it stands in the file: ``"Biomass (lb/acre)"``, ``"seeding_kg_ha"``, ``"C:N"``.

    Returns
    -------
    Known or None
        None where it is none of `COLUMNS`.
    unit : str
        As written; empty where there is none.
    """
    if len(header) > _LONGEST:
        return None, ""
    bracketed = _BRACKETED.match(header)
    name, unit = (bracketed[1], bracketed[2].strip()) if bracketed else (header, "")
    words = "_".join(re.findall(r"[^\W_]+", name.lower()))
    if unit:
        return _CALLED.get(words), unit
    for wanted, suffixes in (("kg/ha", _SUFFIXES), ("cm", _LENGTHS)):
        for suffix, meant in suffixes.items():
            known = _CALLED.get(words.removesuffix(f"_{suffix}"))
            if words.endswith(f"_{suffix}") and known and known.unit == wanted:
                return known, meant
    return _CALLED.get(words), ""


def find_header(rows: Sequence[Sequence[Any]]) -> int | None:
    """Return the index of the first row that names at least two columns, or None."""
    for index, cells in enumerate(rows):
        named = {
            known.name
            for cell in cells
            if isinstance(cell, str)
            for known in [recognise(cell)[0]]
            if known
        }
        if len(named) >= 2:
            return index
    return None


def factor(unit: str, wanted: str, *, name: str) -> float:
    """Return what a number in ``unit`` is multiplied by to be in ``wanted``.

    Raises
    ------
    InputError
        Not a unit, or one of another kind.
    """
    if wanted == "percent" and unit in ("%", "percent"):
        return 1.0
    return units.parse(f"1 {pint_powers(unit)}", wanted, name=name)
