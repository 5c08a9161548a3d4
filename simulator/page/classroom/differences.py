"""Why a season's lines part, or lie on each other, in words."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.page.classroom.methods import OWN, method_name
from simulator.page.classroom.question import ClassQuestion
from simulator.page.classroom.questions import when, whole
from simulator.page.classroom.season import Summed
from simulator.process.thermal_time import BASE, UPPER
from simulator.show import wording
from simulator.show.wording import threshold

AGREED = 0.5  # in reader's units: less than the season's sums are told to


def why_methods_differ(season: Summed, asked: ClassQuestion) -> list[str]:
    """Say why the chosen method's line parts from the simulator's own, and how wide the band is.

    Parameters
    ----------
    season : Summed
    asked : ClassQuestion

    Returns
    -------
    list of str
        Two sentences or three.
    """
    system = asked.system
    gap = season.sums[asked.curve, asked.cutoff] - season.own
    other = _otherwise(asked)
    if float(units.show(float(np.abs(gap).max()), "thermal_time", system)) >= AGREED:
        side = "less" if gap[-1] < 0 else "more"
        far, end = whole(abs(float(gap[-1])), system), when(season, gap.size - 1)
        text = f"By {end} the chosen method counts {far} {side} than the simulator: {other}."
    elif other:
        text = f"The two lines lie on each other, although {other}: no day of this season shows it."
    else:
        text = (
            "The two lines are one: the method and the limits chosen above are the simulator's "
            "own. Choose another method, or move the base or the limit, and they part."
        )
    return [text, _band(season, asked)]


def _otherwise(asked: ClassQuestion) -> str:
    """Say in what the choice differs from what the simulator does."""
    system, found = asked.system, []
    for what, chosen, own in (("base", asked.base, BASE), ("limit", asked.upper, UPPER)):
        if threshold(chosen, system) != threshold(own, system):
            found.append(
                f"the {what} is {threshold(chosen, system)} and not {threshold(own, system)}"
            )
    if (asked.curve, asked.cutoff) != OWN:
        found.append(
            f"it counts by {method_name(asked.curve, asked.cutoff)} and not by {method_name(*OWN)}"
        )
    return wording.join(found)


def _band(season: Summed, asked: ClassQuestion) -> str:
    ends = [float(sums[-1]) for sums in season.sums.values()]
    crosses = (season.tmin < asked.base) & (asked.base < season.tmax)
    differ = int((crosses | (season.tmax > asked.upper)).sum())
    if not differ:
        return (
            "The band has no width: no day crosses the base or rises above the limit, and on "
            "such days all methods count the same."
        )
    return (
        f"The band of all methods ends {whole(max(ends) - min(ends), asked.system)} wide: they "
        f"can differ only on days that cross the base or rise above the limit, {differ} of "
        f"{season.days.size}; on the others all count the same."
    )
