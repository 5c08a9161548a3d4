"""What a date of ending leaves, in sentences: what grows back, seed, nitrogen after planting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.shared.nitrogen_after import AFTER_PLANTING, UNTRIED, balance
from simulator.answers.shared.regrowth import left_alive
from simulator.answers.timing.data import stages_of
from simulator.answers.timing.seed import SeedSet, seed_on
from simulator.parameters.terminations import SEED, Way
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

MOST_FALLS = 0.8  # "in four falls of five"


def sentences(found: xr.Dataset, ends: Sequence[str], way: Way, system: units.System) -> list[str]:
    """Say what is left on some dates of ending.

    Parameters
    ----------
    found : Dataset(year, end)
        From `simulator.answers.timing.calculate.timing`.
    ends : sequence of str
        Dates that are spoken of.
    way : Way
        How the stand is ended.
    system : {"us", "si"}
    """
    texts = [
        _regrowth_sentence(found, ends, way),
        seed_sentence(found),
        _nitrogen_sentence(found, ends, system),
    ]
    return [text for text in texts if text]


def _regrowth_sentence(found: xr.Dataset, ends: Sequence[str], way: Way) -> str:
    texts: list[str] = []
    for end in ends:
        left = left_alive(stages_of(found.sel(end=end)), way)
        if not left.falls:
            continue
        what, by = "", ""
        if not texts:
            what = " can be expected to live on and grow back"
            by = " by the range of trials"
        texts.append(
            f"on {wording.dates_in(end)}, {100 * left.share:.0f} percent{what} "
            f"({100 * left.share_low:.0f} to {100 * left.share_high:.0f}{by}; more than a tenth "
            f"in {left.falls_poor} of {left.falls} falls)"
        )
    return f"Of a stand ended by {way.by} {'; '.join(texts)}." if texts else ""


def seed_sentence(found: xr.Dataset) -> str:
    """Say by which dates of ending seed is set, or may be viable; nothing where heading is unknown.

    Parameters
    ----------
    found : Dataset(year, end)
        With what `simulator.answers.timing.seed.add_seed` adds.
    """
    ends = [str(end) for end in found["end"].values]
    seeds = {end: one for end in ends if (one := seed_on(found.sel(end=end))) is not None}
    if not seeds:
        return ""
    days = f"{SEED.days_after_heading:.0f} days after heading"
    some = next((end for end, one in seeds.items() if one.set_in), None)
    most = next((end for end, one in seeds.items() if one.set_in >= MOST_FALLS * one.falls), None)
    named = list(dict.fromkeys(filter(None, (some, most)))) or [ends[-1]]
    by = [_seed_set_clause(end, seeds[end], chance=at == 0) for at, end in enumerate(named)]
    said = f"Seed is taken as set {days}: {wording.join(by)}."
    milky = next((end for end, one in seeds.items() if one.possible_in), None)
    if milky is None or seeds[milky].possible_in == seeds[milky].set_in:
        return said
    one = seeds[milky]
    return (
        f"{said} From the milk stage on it may be viable, by {wording.dates_in(milky)} in "
        f"{one.possible_in} of {one.falls}: end the stand before, or expect volunteers."
    )


def _seed_set_clause(end: str, one: SeedSet, *, chance: bool) -> str:
    """Say it of one date: ``"by Apr 26 in 4 of 30 falls, with a chance of 20 percent in ..."``."""
    field = " in a field like these" if chance else ""
    count = f"{one.set_in} of {one.falls} falls" if one.set_in else "none of the falls"
    percent = f"a chance of {100 * one.chance:.0f} percent{field}"
    return f"by {wording.dates_in(end)} in {count} ({percent})"


def _nitrogen_sentence(found: xr.Dataset, ends: Sequence[str], system: units.System) -> str:
    """Say what residue has freed or tied up when the next crop is planted, and later."""
    names = [f"planting_released_{after}_days_kg_ha" for after in AFTER_PLANTING]
    if names[0] not in found:
        return ""
    texts = []
    for end in ends:
        at = found.sel(end=end)
        whens = ["then", *(f"{after // 7} weeks later" for after in AFTER_PLANTING[1:])]
        parts = [
            f"{balance(at[name].values, system)} {when}"
            for name, when in zip(names, whens, strict=True)
            if at[name].notnull().any()
        ]
        if parts:
            texts.append(f"ended on {wording.dates_in(end)}, {', '.join(parts)}")
    if not texts:
        return ""
    day = wording.dates_in(str(found.attrs["planting"]))
    return (
        f"What decay has freed or tied up since the end, on {day} and after: {'; '.join(texts)}. "
        f"Tied up it is a debt to the next crop, freed a credit. {UNTRIED}"
    )
