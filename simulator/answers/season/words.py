"""What one season came to, in sentences."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.shared.field_ranges import biomass_ranges, how_far_off, spelled
from simulator.answers.shared.plant_counts import last_of, stand_sentence
from simulator.answers.shared.regrowth import left_alive
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.terminations import MOWN, ROLLED, SEED, SPRAYED
from simulator.season.stage_dates import FLOWERING, HEADING
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr


def sentences(days: xr.Dataset, system: units.System, errors: ModelErrors = SHIPPED) -> list[str]:
    """Say what the stand came to, and where its nitrogen and the rain went.

    Parameters
    ----------
    days : Dataset(time)
        From `run_season`.
    system : {"us", "si"}
    errors : ModelErrors
        How far off the model is, for the range of biomass.

    Returns
    -------
    list of str
    """
    about = days.attrs
    last = days.isel(time=-1)
    date = wording.day_in(last["time"].values)
    texts = []
    if about["end_reached"] == "no":
        texts.append(
            f"The stand was never ready to be ended {wording.ending(about['end'])}; "
            f"the weather ends on {date}."
        )
    if not last["stand_alive"]:
        texts.append(_death(days))
    texts.append(
        f"On {date} the stand has "
        f"{units.spell(float(last['biomass_kg_ha']), 'biomass', system)} of dry matter in its "
        f"shoots ({_in_a_field(last, system, errors)} in a field like these), at Zadoks "
        f"{float(last['growth_stage_zadoks']):.0f}, with "
        f"{_mass(last['nitrogen_uptake_kg_ha'], system)} of nitrogen in them"
        + _nitrogen_and_ratio_text(last)
        + "."
    )
    texts += filter(None, [stand_sentence(last_of(days), system)])
    texts += [*headed(days), *grows_back(days)]
    first = wording.day_in(days["time"].values[0])
    texts.append(
        f"Since {first} there fell {_water(last['rain_mm'], system)} of rain and snow"
        f"{_irrigation(last, system)}; "
        f"{_water(last['drainage_mm'], system)} drained below the soil column and leached "
        f"{_mass(last['nitrate_leached_kg_ha'], system)} of nitrate nitrogen, "
        f"{_mass(_leached_after_sowing(days), system)} of it after sowing."
    )
    texts.append(how_far_off(system, errors.level))
    return texts


def _irrigation(last: xr.Dataset, system: units.System) -> str:
    if not float(last["irrigation_mm"]):
        return ""
    return f", and {_water(last['irrigation_mm'], system)} of irrigation was put on"


def headed(days: xr.Dataset) -> list[str]:
    """Say on which days the stand headed and flowered, as far as it came."""
    reached_on = []
    for stage, done in ((HEADING, "heads"), (FLOWERING, "flowers")):
        reached = np.flatnonzero(
            (days["growth_stage_zadoks"].values >= stage) & (days["stand_alive"].values > 0)
        )
        if reached.size:
            date = str(days["time"].values[reached[0]].astype("datetime64[D]"))[5:]
            reached_on.append(f"{done} on {wording.dates_in(date)} (Zadoks {stage})")
    if not reached_on:
        return []
    return [f"The stand of {wording.stand(days.attrs)} {wording.join(reached_on)}."]


def grows_back(days: xr.Dataset) -> list[str]:
    """Say how much of the stand grows back by how it is ended, and whether its seed may be set."""
    last = days.isel(time=-1)
    stage = float(last["growth_stage_zadoks"])
    if not last["stand_alive"] or days.attrs["end_reached"] == "no":
        return []
    shares = []
    for way in (ROLLED, MOWN, SPRAYED):
        left = left_alive(np.array([stage]), way)
        shares.append(
            f"{100 * left.share:.0f} percent by {way.by} "
            f"({100 * left.share_low:.0f} to {100 * left.share_high:.0f})"
        )
    texts = [
        f"Ended at this stage, some of it can be expected to live on and grow back: "
        f"{wording.join(shares)}, in brackets the range of trials. Herbicides go by their label "
        "and local advice."
    ]
    since = np.flatnonzero(days["growth_stage_zadoks"].values >= HEADING)
    if since.size and days.sizes["time"] - 1 - since[0] >= SEED.days_after_heading:
        texts.append(
            f"It headed {days.sizes['time'] - 1 - since[0]} days before: its seed is taken as set."
        )
    elif stage >= SEED.milk_stage:
        texts.append("From the milk stage on (Zadoks 73) its seed may be viable.")
    return texts


def _in_a_field(last: xr.Dataset, system: units.System, errors: ModelErrors) -> str:
    return spelled(
        biomass_ranges(last["biomass_kg_ha"].values.ravel(), error=errors.level), "biomass", system
    )


def _death(days: xr.Dataset) -> str:
    alive = np.flatnonzero(days["stand_alive"].values > 0)
    if not alive.size:
        return "The stand never emerged."
    return f"Frost killed the stand on {wording.day_in(days['time'].values[alive[-1] + 1])}."


def _nitrogen_and_ratio_text(last: xr.Dataset) -> str:
    percent, ratio = float(last["nitrogen_percent"]), float(last["carbon_to_nitrogen"])
    if not (np.isfinite(percent) and np.isfinite(ratio) and percent > 0):
        return ""
    return f" ({percent:.1f} percent, C:N {ratio:.0f})"


def sowing_date(days: xr.Dataset) -> np.datetime64:
    """Return the day of sowing of a season."""
    from simulator.weather.fall_year import season_day

    return season_day(int(days.attrs["year"]), str(days.attrs["sow"]))


def _since_sowing(days: xr.Dataset) -> xr.DataArray:
    return days["time"] >= sowing_date(days)


def _leached_after_sowing(days: xr.Dataset) -> float:
    before = days["nitrate_leached_kg_ha"].where(~_since_sowing(days), drop=True)
    start = float(before[-1]) if before.size else 0.0
    return float(days["nitrate_leached_kg_ha"][-1]) - start


def balances(days: xr.Dataset) -> dict[str, dict[str, object]]:
    """Return the closing balances of water, nitrogen and dry matter, each with in, out, error."""
    return {
        name.removesuffix("_balance"): json.loads(days.attrs[name])
        for name in ("water_balance", "nitrogen_balance", "dry_matter_balance")
    }


def _mass(value: object, system: units.System) -> str:
    return units.spell(float(value), "nitrogen", system)  # type: ignore[arg-type]


def _water(value: object, system: units.System) -> str:
    return units.spell(float(value), "water", system)  # type: ignore[arg-type]
