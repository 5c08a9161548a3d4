"""When an early or a late variety heads and flowers, in a sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters.cereal_set import MEDIUM
from simulator.parameters.cereals import cereal
from simulator.parameters.varieties import Variety, grown_as, variety
from simulator.season.compiling import Announce
from simulator.season.plan import month_day_of
from simulator.season.stage_dates import stage_days
from simulator.show import wording

if TYPE_CHECKING:
    import xarray as xr

PLAIN_YEAR = 2001  # whose spring has no February 29
UNTRIED = (
    "How early a variety is, is its days at heading alone: tillering, hardiness and growth habit "
    "are those of the cereal. Your seed's own trial knows better."
)


def heading_sentences(
    record: xr.Dataset,
    plans: Mapping[str, Any],
    field: Mapping[str, Any],
    years: Sequence[int] | None,
    *,
    kinds: Sequence[Variety] = (),
    announce: Announce | None = None,
) -> list[str]:
    """Say when each variety heads and flowers, sown on the first date; nothing of a medium one.

    Parameters
    ----------
    record : Dataset(time)
    plans : mapping
        ``sow, seeding, nitrogen, nitrogen_timing``, each a text or a list.
    field : mapping
        ``cereal, soil, previous_crop, fertilizer``: names or parameter sets.
    years : sequence of int or None
    kinds : sequence of Variety
        Those compared; without them the one that the cereal is.
    announce : callable, optional
    """
    base = cereal(field.get("cereal", "rye"))
    if not kinds and base.variety == MEDIUM:
        return []
    texts: list[str] = []
    plan = {name: _first(plans[name]) for name in ("sow", "seeding", "nitrogen", "nitrogen_timing")}
    for kind in kinds or [variety(base.variety)]:
        stand = grown_as(base, kind) if kinds else base
        days = stage_days(
            record, years=years, announce=announce, **{**field, **plan, "cereal": stand}
        )
        if (dates := median_dates(days)) is not None:
            texts.append(f"{named(kind)} heads on {dates[0]} and flowers on {dates[1]}")
    if not texts:
        return []
    falls = "medians over the falls" if days.sizes["year"] > 1 else "as simulated"
    sown = f"Sown on {wording.dates_in(plan['sow'][0])}, {'; '.join(texts)} ({falls})."
    return [sown, UNTRIED]


def _first(given: Any) -> list[str]:
    return [given if isinstance(given, str) else str(given[0])]


def named(kind: Variety) -> str:
    """Name a variety: ``"an early variety"``, ``"a variety 6 days early"``."""
    if "day" in kind.name:
        return f"a variety {kind.name}"
    return f"a{'n' if kind.name[0] in 'aeiou' else ''} {kind.name} variety"


def median_dates(days: xr.DataArray) -> list[str] | None:
    """Return the median date of each stage, spelled; None where a stage is never reached."""
    found = []
    for stage in days["stage"].values:
        values = days.sel(stage=stage).values.ravel()
        known = values[np.isfinite(values)]
        if not known.size:
            return None
        middle = int(np.quantile(known, 0.5, method="inverted_cdf"))
        found.append(wording.dates_in(month_day_of(PLAIN_YEAR - 1, middle)))
    return found
