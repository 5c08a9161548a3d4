"""What a sheet is asked, and what all sheets have."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator import __version__, units
from simulator.answers.shared.bare_soil import beside_each_row
from simulator.answers.sheet.layout import Sheet
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.problems import Parameter, fault
from simulator.show import wording
from simulator.show.cautions import cautions
from simulator.show.output import ROW_VARIABLES
from simulator.show.tables import FEWEST_FOR_SHARES, mean, spread

if TYPE_CHECKING:
    import numpy as np
    import xarray as xr
    from numpy.typing import NDArray

    from simulator.answers.shared.field_ranges import Ranges
    from simulator.season.compiling import Announce

CHART = (560, 230)  # width and height of a sheet's chart [px]
NOT_COUNTED = "Pests, weeds, diseases, lodging and fields too wet to enter are not counted."


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRequest:
    """What is asked, read and checked.

    Parameters
    ----------
    record : Dataset(time)
    field : dict
        ``cereal, soil, previous_crop, fertilizer`` as `compare` takes them.
    plans : dict of str to list of str
        ``sow, seeding, nitrogen, nitrogen_timing, end``.
    years : list of int or None
    system : {"us", "si"}
    place : str
        As the sheet names it.
    changes : sequence of str
        Of the weather, for ``whatif``.
    target : float
        Biomass [kg/ha], for ``risk``.
    year : int or None
        For ``why``.
    parameters : list of str
        What a parameter file changes, as notes.
    announce : callable
    errors : ModelErrors
        How far off the model is.
    """

    record: xr.Dataset
    field: dict[str, Any]
    plans: dict[str, list[str]]
    years: list[int] | None
    system: units.System
    place: str
    changes: Sequence[str]
    target: float
    year: int | None
    parameters: list[str]
    announce: Announce
    errors: ModelErrors = SHIPPED

    @property
    def unit(self) -> str:
        """Unit of biomass and nitrogen."""
        return units.label("mass", self.system)

    def shown(self, value: float) -> float:
        """Turn kg/ha into the reader's units."""
        return float(units.show(value, "mass", self.system))

    def biomass(self, value: float, *, label: bool = True) -> str:
        """Spell biomass to the nearest ten: more digits would promise too much."""
        text = f"{round(self.shown(value), -1) + 0:,.0f}"
        return f"{text} {self.unit}" if label else text

    def nitrogen(self, value: float, *, label: bool = True) -> str:
        """Spell nitrogen or seed, to the nearest one."""
        text = f"{round(self.shown(value)) + 0:,}"
        return f"{text} {self.unit}" if label else text

    def rate(self, value: float) -> str:
        """Spell a rate of nitrogen: ``"60 lb/ac of nitrogen"``, ``"no nitrogen"``."""
        return f"{self.nitrogen(value)} of nitrogen" if value > 0 else "no nitrogen"

    def band(self, values: NDArray[np.float64]) -> str:
        """Spell where 8 of 10 falls lie."""
        low, high = spread(values)
        return f"{self.biomass(low, label=False)} to {self.biomass(high, label=False)}"

    def in_field(self, ranges: Ranges) -> str:
        """Spell the range of weather and field."""
        low, high = (self.biomass(end, label=False) for end in (ranges.low, ranges.high))
        return f"{low} to {high}"

    def span(self, values: NDArray[np.float64]) -> dict[str, float]:
        """Return mean and range for a chart, in the reader's units."""
        low, high = spread(values)
        return {"y": self.shown(mean(values)), "low": self.shown(low), "high": self.shown(high)}

    def one_each(self) -> dict[str, str]:
        """Return the first of each of the plans."""
        return {name: values[0] for name, values in self.plans.items()}

    def grown(self, changes: Sequence[str] | None = None) -> xr.Dataset:
        """Grow every plan in every fall, beside bare soil."""
        from simulator.season.compare import compare

        plans, field = self.plans, self.field
        return compare(
            self.record,
            cereal=field["cereal"],
            soil=field["soil"],
            previous_crop=field["previous_crop"],
            fertilizer=field["fertilizer"],
            sow=plans["sow"],
            seeding=plans["seeding"],
            nitrogen=plans["nitrogen"],
            nitrogen_timing=plans["nitrogen_timing"],
            end=plans["end"],
            years=self.years,
            changes=changes,
            bare=True,
            announce=self.announce,
        )


def assemble_sheet(
    request: SheetRequest,
    data: xr.Dataset,
    falls: Sequence[int],
    *,
    rests_on: Sequence[str],
    figures: str,
    seasons: int,
    beside_bare: str = "",
    **parts: Any,
) -> Sheet:
    """Put on a sheet what all sheets have: place, assumptions, cautions, version.

    Parameters
    ----------
    request : SheetRequest
    data : Dataset
        The numbers, with their provenance as attributes.
    falls : sequence of int
        Fall years that were used.
    rests_on : sequence of str
        What this answer assumes beside the rest.
    figures : str
        What the figures of the table are.
    seasons : int
        How many were grown.
    beside_bare : str
        As `Sheet` has it.
    **parts
        ``question, answer, chart, chart_title, columns, rows``.
    """
    about = data.attrs
    latitude = about.get("latitude")
    where = f" ({float(latitude):g} degrees north)" if latitude is not None else ""
    gone = [text.split(":")[0] for text in about.get("left_out", [])]
    texts = [
        f"Daily highs, lows and rain of {wording.falls(falls)}, at {about['site']}{where}.",
        f"Left out, the weather not being whole: {wording.join(gone)}." if gone else "",
        "Short gaps in the weather were filled." if about.get("filled") else "",
        *rests_on,
        f"Nitrogen as {about['fertilizer']}. Biomass is dry matter of living shoots.",
        *request.parameters,
        NOT_COUNTED,
    ]
    return Sheet(
        place=request.place,
        invented=about.get("invented") == "yes",
        field=f"{wording.stand(about)} on {about['soil']} after {about['previous_crop']}",
        table_note=figures,
        beside_bare=beside_bare,
        assumptions=[text for text in texts if text],
        cautions=cautions(about, nitrogen=True, termination=True),
        made=f"fallsown {__version__}: {seasons:,} seasons grown day by day. Weather: "
        f"{_source(about)}.",
        data=data,
        **parts,
    )


def _source(about: dict[str, Any]) -> str:
    """Say where the weather is from; a sample's file is left out, for its place is named above."""
    said = str(about.get("source") or "the file given")
    return re.sub(r"^sample [\w-]+: ", "", said)


def thousands(text: str) -> str:
    """Mark thousands in a cell: ``"-1270"`` becomes ``"-1,270"``."""
    return re.sub(r"\d{4,}", lambda found: f"{int(found[0]):,}", text)


def rows_of(grid: xr.Dataset) -> xr.Dataset:
    """Return what the JSON object carries of a grid, bare soil of the same fall beside it."""
    return beside_each_row(grid, ROW_VARIABLES).assign_attrs(grid.attrs)


def whole_falls(grid: xr.Dataset) -> xr.Dataset:
    """Take the first seeding rate and the last end, and falls in which every stand reached it.

    Raises
    ------
    InputError
        There are none.
    """
    subset = grid.isel(seeding=0, end=-1)
    others = [name for name in subset["biomass_kg_ha"].dims if name != "year"]
    whole = subset["biomass_kg_ha"].notnull().all(others).values
    if not whole.any():
        raise fault(
            Parameter("end"),
            "In no fall did every stand come to its end.",
            "Give a date, or a stage or biomass that is reached.",
        )
    return subset.isel(year=whole)


def figures_are(falls: int, more: str) -> str:
    """Say what the figures of a table are."""
    text = "Figures are means over the falls" if falls > 1 else "Figures are those of the one fall"
    return f"{text}; {more}."


def band_title(falls: int) -> str:
    """Head the column of ranges."""
    return "8 of 10 falls" if falls >= FEWEST_FOR_SHARES else "lowest to highest"


def band_meaning(falls: int) -> str:
    """Say what a range is, in the title of a chart."""
    if falls >= FEWEST_FOR_SHARES:
        return "the mean, and where 8 of 10 falls lie"
    return "the mean, and the lowest and highest fall"
