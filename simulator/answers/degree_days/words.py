"""How far the methods of counting thermal time agree, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.process.thermal_time import BASE, UPPER
from simulator.show import wording
from simulator.show.wording import threshold

if TYPE_CHECKING:
    import xarray as xr


def sentences(sums: xr.Dataset, system: units.System) -> list[str]:
    """Say how far the methods differ at each base, and which the simulator uses.

    Parameters
    ----------
    sums : Dataset(year, base, counted_by)
        From `degree_days`.
    system : {"us", "si"}

    Returns
    -------
    list of str
    """
    span = f"From {wording.dates_in(sums.attrs['first'])} to {wording.dates_in(sums.attrs['last'])}"
    means = sums["thermal_time_degC_d"].mean("year")
    mean = " on the mean" if sums.sizes["year"] > 1 else ""
    texts = []
    for base in means["base"].values:
        here = means.sel(base=base)
        ranked = here.sortby(here)
        least, most = (float(ranked[at]) for at in (0, -1))
        lowest, highest = (str(ranked["counted_by"].values[at]) for at in (0, -1))
        subject = f"{span}, above {threshold(float(base), system)}, "
        if most - least < 0.5:
            texts.append(f"{subject}all methods agree on {_sum(most, system)}.")
            continue
        share = f" ({100.0 * (most - least) / most:.0f} percent)" if most > 0 else ""
        texts.append(
            f"{subject}the methods lie {_sum(most - least, system)}{share} apart{mean}: least by "
            f"{lowest} ({_sum(least, system)}), most by {highest} ({_sum(most, system)})."
        )
    texts.append(
        "A target in degree days holds only for the method and the base that it was made with. The "
        f"simulator itself counts by single sine above {threshold(BASE, system)} with a horizontal "
        f"cutoff at {threshold(UPPER, system)}."
    )
    return texts


def _sum(value: float, system: units.System) -> str:
    return units.spell(value, "thermal_time", system)
