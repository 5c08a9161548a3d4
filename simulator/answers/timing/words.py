"""When to end a stand, in sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.shared.bare_soil import (
    amount,
    described,
    kind_of,
    range_less,
    untried,
    within,
)
from simulator.answers.shared.field_ranges import gain_off, spelled
from simulator.answers.shared.nitrogen_after import NO_RATE
from simulator.answers.shared.regrowth import LABEL
from simulator.answers.timing import left_words
from simulator.answers.timing.calculate import (
    BALANCED,
    Waiting,
    beside_bare,
    first_date,
    waiting,
)
from simulator.answers.timing.data import stages_of
from simulator.parameters.terminations import ENOUGH_KILL, ROLLED, WAYS, Way, way_of
from simulator.show import wording
from simulator.show.grids import heading
from simulator.show.tables import (
    mean,
    number,
    paragraph,
    spread,
)

if TYPE_CHECKING:
    import xarray as xr

LEAST_PACE = 5.0  # kg/ha a day, below which none is worth a word
MOST_FALLS = 0.8  # "in four falls of five"
FLOWERING = 61.0  # Zadoks; consistent control from here, Mirsky et al. (2009), Agron. J. 101:1589
CAUTIONS = (
    "Kill shares come from trials with rye, wheat and black oat, weeks after one careful pass; "
    "uneven stands, lodging, damp or soft ground and a light roller do worse. A stand not killed "
    "grows back, takes water and sets seed: look again after a week or two.",
    LABEL,
    NO_RATE,
    "Crop insurance rules may say by when a cover crop must be ended for the next crop to be "
    "insurable: ask your agent before waiting.",
)


def head(found: xr.Dataset, system: units.System) -> str:
    """Say what was grown where, and by which plan."""
    about = heading(found.attrs, found["year"].values.tolist())
    return f"{about}\n{paragraph(plan_of(found.attrs, system))}"


def plan_of(plan: dict[str, Any], system: units.System) -> str:
    """Say by which plan the stand was grown."""
    return (
        f"Sown on {wording.dates_in(plan['sow'])} at "
        f"{units.spell(plan['seeding_kg_ha'], 'mass', system)} with "
        f"{units.spell(plan['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(plan['nitrogen_timing'])}."
    )


def sentences(found: xr.Dataset, system: units.System) -> list[str]:
    """Say what the dates mean, in sentences made from their numbers."""
    wait = waiting(found)
    texts = [_growth_sentence(found, system)]
    if wait is not None:
        texts += [_waiting_sentence(wait, system), _water_sentence(wait, system)]
    texts += _beside_bare(found, wait, system)
    texts.append(_ratio_sentence(found))
    ends = [wait.first, wait.last] if wait else [str(found["end"].values[0])]
    texts += [
        *_rolling_sentences(found),
        *left_words.sentences(found, ends, way_used(found), system),
    ]
    return [one for one in texts if one]


def way_used(found: xr.Dataset) -> Way:
    """Return how the stand is ended: the roller where nothing else was asked for."""
    return way_of(str(found.attrs.get("kill", ROLLED.tool)))


def _growth_sentence(found: xr.Dataset, system: units.System) -> str:
    pace = np.array([mean(values) for values in found["growth_kg_ha_d"].values.T])
    if not np.isfinite(pace).any():
        return ""
    best = int(np.nanargmax(pace))
    if pace[best] < LEAST_PACE:
        return ""
    before, then = (wording.dates_in(str(found["end"].values[at])) for at in (best - 1, best))
    return (
        f"As simulated, growth is fastest from {before} to {then}: "
        f"{units.spell(pace[best], 'biomass', system)} "
        f"a day{' as a mean over falls' if found.sizes['year'] > 1 else ''}."
    )


def _waiting_sentence(found: Waiting, system: units.System) -> str:
    before, after = mean(found.biomass_before), mean(found.biomass_after)
    bought = "adds" if after >= before else "loses"
    ranges, falls = found.ranges, found.gained.size
    weather = replace(ranges, low=ranges.weather_low, high=ranges.weather_high)
    over = f"{spelled(weather, 'biomass', system)} {within(falls)}, " if falls > 1 else ""
    ratios = [f"{mean(values):.0f}" for values in (found.ratio_before, found.ratio_after)]
    verdict = (
        f"it is {after / before:.1f} times the biomass then"
        if ranges.is_clear
        else "whether one field gains any cannot be told"
    )
    return (
        f"Waiting {found.days} days, from {wording.dates_in(found.first)} to "
        f"{wording.dates_in(found.last)}, {bought} "
        f"{units.spell(abs(after - before), 'biomass', system)}{_mean_over_falls(falls)} "
        f"({over}{spelled(ranges, 'biomass', system)} in a field like these): {verdict}. "
        f"{gain_off(system, found.errors.gain)} C:N goes from {ratios[0]} to {ratios[1]} meanwhile."
    )


def _mean_over_falls(falls: int) -> str:
    return " as a mean over falls" if falls > 1 else ""


def _water_sentence(found: Waiting, system: units.System) -> str:
    if not found.at_planting:
        return ""
    first, last, day = map(wording.dates_in, (found.first, found.last, found.planting))
    saved = found.water_before - found.water_after
    known = np.isfinite(saved)
    falls = int(known.sum())
    low, high = (number(end, "water", system) for end in spread(saved))
    ranged = f" ({low} to {high} {within(falls)})" if falls > 1 else ""
    full = [
        f"{values[known].sum():.0f} of {falls}" for values in (found.full_before, found.full_after)
    ]
    nitrate = mean(found.nitrate_before - found.nitrate_after)
    return (
        f"Ended on {first}, the stand leaves the next crop "
        f"{amount_more(mean(saved), 'water', system)} water in the soil on {day} than ended on "
        f"{last}{ranged}, and {amount_more(nitrate, 'nitrogen', system)} nitrate "
        f"nitrogen{_mean_over_falls(falls)}. By then rain has refilled the soil in {full[0]} "
        f"falls; ended on {last}, in {full[1]}."
    )


def _beside_bare(found: xr.Dataset, wait: Waiting | None, system: units.System) -> list[str]:
    """Say what the stand leaves at planting beside bare soil, ended on the dates compared."""
    ends = [wait.first, wait.last] if wait else [str(found["end"].values[0])]
    parts = []
    for end in ends:
        water = beside_bare(found, end, "planting_water_mm")
        nitrate = beside_bare(found, end, "planting_nitrate_kg_ha")
        if water is not None and nitrate is not None:
            parts.append(
                f"ended on {wording.dates_in(end)}, the stand leaves "
                f"{amount(water.mean, 'water', system, 'water')} in the soil"
                f"{range_less(water, 'water', system)} and "
                f"{amount(nitrate.mean, 'nitrogen', system, 'nitrate nitrogen')}"
                f"{range_less(nitrate, 'nitrogen', system)}"
            )
    if not parts:
        return []
    day = wording.dates_in(found.attrs["planting"])
    bare = {
        name: mean(found[f"bare_{name}"].sel(end=ends).values.ravel())
        for name in ("planting_water_mm", "planting_nitrate_kg_ha", "planting_covered")
    }
    lying = "residue" if kind_of(found.attrs).volunteers else "old residue"
    return [
        f"On {day} bare soil, {described(found.attrs, system)}, holds "
        f"{units.spell(bare['planting_water_mm'], 'water', system)} of water and "
        f"{units.spell(bare['planting_nitrate_kg_ha'], 'nitrogen', system)} of nitrate nitrogen, "
        f"with {100 * bare['planting_covered']:.0f} percent of the ground under {lying}"
        f"{_mean_over_falls(found.sizes['year'])}. Beside it in the same fall, {'; '.join(parts)}.",
        untried(found.attrs),
    ]


def amount_more(difference: float, kind: str, system: units.System) -> str:
    """Spell a difference: ``"0.4 in less"``, ``"hardly any more"`` where it prints as nothing."""
    if float(number(abs(difference), kind, system)) == 0.0:
        return "hardly any more"
    return f"{units.spell(abs(difference), kind, system)} {'more' if difference >= 0.0 else 'less'}"


def _ratio_sentence(found: xr.Dataset) -> str:
    date = first_date(found, "carbon_to_nitrogen", BALANCED, 0.5)
    if date is None:
        return f"C:N stays under {BALANCED:.0f} in most falls: decay sets nitrogen free early."
    return (
        f"From {wording.dates_in(date)} on, C:N is above {BALANCED:.0f} in half of the falls "
        "or more: decay of such residue ties up nitrogen at first."
    )


def _rolling_sentences(found: xr.Dataset) -> list[str]:
    date = first_date(found, ROLLED.field, ENOUGH_KILL, MOST_FALLS)
    percent = f"{100 * ENOUGH_KILL:.0f} percent"
    if date:
        low, high = (
            100.0 * mean(ROLLED.kill(stages_of(found.sel(end=date)), which))
            for which in ("low", "high")
        )
        texts = [
            f"Rolling alone can be expected to kill {percent} from {wording.dates_in(date)} "
            f"on, in {_falls_reached_text(found, date, ROLLED.field, ENOUGH_KILL)} falls; by the "
            f"range of trials it may be {low:.0f} to {high:.0f} percent there."
        ]
    else:
        texts = [
            f"On none of these dates can rolling alone be expected to kill {percent} in four "
            "falls of five."
        ]
    if flowering := first_date(found, "growth_stage_zadoks", FLOWERING, MOST_FALLS):
        count = _falls_reached_text(found, flowering, "growth_stage_zadoks", FLOWERING)
        texts.append(
            f"Flowering (Zadoks {FLOWERING:.0f}), where trials found anything from a poor "
            f"kill to a full one, is reached by {wording.dates_in(flowering)} in "
            f"{count} falls."
        )
    first = found.isel(end=0)
    works = [way.by for way in WAYS if mean(first[way.field].values) >= ENOUGH_KILL - 1e-9]
    if works:
        date = wording.dates_in(str(first["end"].values))
        texts.append(f"Already on {date} these can be expected to end it: {', '.join(works)}.")
    if ROLLED.by not in works:
        texts.append("Rolled or mown too early, the stand grows back.")
    return texts


def _falls_reached_text(found: xr.Dataset, date: str, name: str, least: float) -> str:
    """Count the falls that reach a value on a date: ``"26 of 30"``."""
    values = found[name].sel(end=date).values
    known = values[np.isfinite(values)]
    return f"{(known >= least).sum()} of {known.size}"
