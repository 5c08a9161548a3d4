"""A season that is over, or as far as it goes: what was measured in it, and what then stood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.outlook.calculate import Seasons
from simulator.answers.outlook.clipped import Clipped, clipped
from simulator.answers.outlook.clipped_words import banded, of_draws, what_was_measured
from simulator.answers.outlook.known_weather import Known, check_measured
from simulator.answers.outlook.sampled_soil import share_above
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.season.measured import Measured
from simulator.season.plan import month_day
from simulator.show import wording
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr


def weigh_season(
    record: xr.Dataset,
    days: xr.Dataset,
    plan: Mapping[str, str],
    field: Mapping[str, Any],
    measured: Sequence[Measured],
    error: ModelError = LEVEL,
) -> Clipped:
    """Weigh drawn fields of one season by what was measured in it.

    Parameters
    ----------
    record : Dataset(time)
    days : Dataset(time)
        The season as simulated, from `simulator.season.one_season.run_season`.
    plan : mapping
        ``sow``, ``seeding``, ``nitrogen``, ``nitrogen_timing`` as texts.
    field : mapping
        ``cereal``, ``soil``, ``previous_crop``, ``fertilizer``.
    measured : sequence of Measured
    error : ModelError
        Of levels.

    Raises
    ------
    InputError
        As `check_measured`: before sowing, or after the end.
    """
    record = fill_short_gaps(checked(record))
    year, end = int(days.attrs["year"]), str(days["time"].values[-1])[5:10]
    plan = {**plan, "sow": month_day(plan["sow"], name="sow")}
    check_measured(measured, plan["sow"], Known(year=year, today=end, as_if=False))
    seasons = Seasons(record, plan, field, [end], [year], None)
    shares = [share_above(record, plan, seasons.about, year, one) for one in measured]
    first = seasons.first_day(year, seasons.blocks)
    return clipped(
        seasons.about, year, seasons.blocks, first, measured, [end], (), shares=shares, error=error
    )


def sentences(found: Clipped, days: xr.Dataset, system: units.System) -> list[str]:
    """Say what stood at the end, with what was measured and as simulated."""
    end = wording.dates_in(str(days["time"].values[-1])[5:10])
    simulated = units.spell(float(days["biomass_kg_ha"].values[-1]), "biomass", system)
    band = banded([float(one) for one in found.bands[0]], system)
    return [
        f"After {what_was_measured(found, system)}, the stand has {band} on {end} in 8 of 10 "
        f"fields like these; as simulated without, {simulated}.",
        *of_draws(found, system),
    ]
