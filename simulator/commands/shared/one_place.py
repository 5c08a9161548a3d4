"""Plans at one place: its weather read, sowings and soil test fitted to it, the grid grown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.commands.shared import options, weather_options
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.varieties import Variety
    from simulator.units import System


@dataclass(frozen=True, slots=True)
class OnePlace:
    """Plans and the place they are for.

    Parameters
    ----------
    record : Dataset(time)
    plans : dict of str to list of str
        ``sow, seeding, nitrogen, nitrogen_timing, end``.
    field : dict of str to parameter set
    years : list of int or None
    system : {"us", "si"}
        Units of the reader.
    """

    record: xr.Dataset
    plans: dict[str, Any]
    field: dict[str, Any]
    years: list[int] | None
    system: System

    @property
    def counts(self) -> list[int]:
        """How many there are of each part of the plans; of ends one run serves all."""
        return [len(values) for name, values in self.plans.items() if name != "end"]

    def grown(self, **more: Any) -> xr.Dataset:
        """Grow every plan in every fall, as `simulator.season.compare.compare`."""
        from simulator.season.compare import compare

        grid = compare(
            self.record,
            **self.plans,
            **self.field,
            years=self.years,
            announce=options.announce,
            **more,
        )
        grid.attrs["read_notes"] = self.record.attrs.get("notes", "")
        return grid

    def heading_sentences(self, kinds: Sequence[Variety] = ()) -> list[str]:
        """Say when varieties head: those compared, or the field's where it is no medium one."""
        from simulator.answers.shared.variety import heading_sentences

        return heading_sentences(
            self.record,
            self.plans,
            self.field,
            self.years,
            kinds=kinds,
            announce=options.announce,
        )


def at_one_place(
    about_weather: dict[str, Any],
    plans: dict[str, Any],
    field: dict[str, Any],
    years: list[int] | None,
    units: str | None,
    *,
    ends: Sequence[str] | None = None,
) -> OnePlace:
    """Read the weather of a place, and fit sowings and soil test to it.

    Parameters
    ----------
    about_weather : dict
        As `simulator.commands.shared.weather_options.load_weather` takes them.
    plans, field, years
        As `OnePlace` has them.
    units : str or None
        As asked.
    ends : sequence of str, optional
        To which falls must be whole; those of the plans without it.

    Raises
    ------
    InputError
        What is wrong with the weather, or with a soil test that does not fit the plans.
    """
    record = weather_options.load_weather(**about_weather)
    sow = covered_sowings(record, plans["sow"], plans["end"] if ends is None else ends, years)
    plans = {**plans, "sow": sow}
    field = with_soil_test(field, plans)
    return OnePlace(record, plans, field, years, options.shown_units(units, record))
