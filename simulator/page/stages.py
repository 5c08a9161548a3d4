"""The days on which a stand reaches its stages, as recorded, changed and pinned: a table."""

from __future__ import annotations

import numpy as np

from simulator.answers.season.panels import CHANGED, RECORDED, STAGES, stages_reached
from simulator.page.answers import Answered
from simulator.page.growing import Grown
from simulator.season.plan import ANY_YEAR, month_day_of
from simulator.show import wording
from simulator.show.tables import NOTHING

PASSED_OVER = "passed over"  # such as tillering, where the stand joints before it has a tiller


def stage_days(grown: Grown) -> dict[str, int]:
    """Return the season day on which each stage is reached; over falls that on which half have it.

    Parameters
    ----------
    grown : Grown

    Returns
    -------
    dict of str to int
        Stage -> days from 1 July; a stage that is not reached, or passed over, is not there.
    """
    first = int(grown.sow_days[0])
    last = int(min(grown.end_days[grown.at(year)] for year in grown.shown))
    stages = grown.days["growth_stage_zadoks"][:, first : last + 1]
    return {name: first + at for at, name in stages_reached(np.median(stages, axis=0))}


def stage_table(found: Answered) -> list[list[str]]:
    """Return the table of stages: its name, then a day for each series.

    The changed weather's day says how far it moves from the recorded one; of a stage that the
    stand never was in, while it was in a later one, it is said.
    """
    days = {name: stage_days(grown) for name, grown in found.grown.items()}
    return [
        [stage, *(_stage_text(found, name, days, stage) for name in days)]
        for _, stage in STAGES
        if any(stage in reached for reached in days.values())
    ]


def _stage_text(found: Answered, name: str, days: dict[str, dict[str, int]], stage: str) -> str:
    on = days[name].get(stage)
    if on is None:
        names = [name for _, name in STAGES]
        later = names[names.index(stage) + 1 :]
        return PASSED_OVER if any(one in days[name] for one in later) else NOTHING
    text = wording.dates_in(month_day_of(found.asked.year or ANY_YEAR, on))
    usual = days[RECORDED].get(stage)
    if name != CHANGED or usual is None or on == usual:
        return text
    apart, way = abs(on - usual), "sooner" if on < usual else "later"
    return f"{text}, {apart} {'day' if apart == 1 else 'days'} {way}"
