"""A chart picked by what is to be drawn: a season, plans, an answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any

from simulator.problems import fault
from simulator.show import charts
from simulator.show.answer import Reply
from simulator.show.picture import Picture
from simulator.units import System, system_of
from simulator.weather.files.record_check import checked


def _has(*names: str) -> Callable[[Any], bool]:
    """Return a test for a Dataset of ours by its dimensions and variables."""
    return lambda what: all(name in getattr(what, "variables", ()) for name in names)


def _is(*kinds: str) -> Callable[[Any], bool]:
    """Return a test for an answer by the names of its class and of what it is made of."""
    return lambda what: type(what).__name__ in kinds


# what is given -> the module that draws it; the first that fits
_DRAWN_BY: tuple[tuple[Callable[[Any], bool], str], ...] = (
    (_has("time", "growth_stage_zadoks"), "season.chart"),
    (_has("counted_by", "thermal_time_degC_d"), "degree_days.chart"),
    (_has("end", "kill_rolled"), "timing.chart"),
    (_has("site", "sow", "left_out"), "places.grid_chart"),
    (_has("sow", "nitrogen", "case"), "whatif.chart"),
    (_has("sow", "nitrogen", "biomass_kg_ha"), "compare.chart"),
    (_is("Cover"), "cover.chart"),
    (_is("Why"), "why.chart"),
    (lambda what: isinstance(what, Sequence) and bool(what) and _is("Risk")(what[0]), "risk.chart"),
)


def chart(
    what: Any,
    *,
    units: System | None = None,
    axes: charts.Axes | None = None,
    **more: Any,
) -> Picture:
    """Draw what was reckoned: the chart is picked by what it is.

    Parameters
    ----------
    what : Dataset, or an answer
        A season from `run_season`; plans from `compare`, with or without changed weather; many
        places from `run_grid`; sums from `answers.degree_days.degree_days`; dates of ending from
        `answers.timing.timing`; the reply to a question, such as `whatif`; a `Cover`, a `Why`,
        or a list of `Risk`.
    units : {"us", "si"}, optional
        As the weather's country has it without.
    axes : mapping, optional
        Domains that hold axes still, by quantity, in the reader's units.
    **more
        What that chart takes beside: ``weather=record`` for a season's temperature.

    Returns
    -------
    Picture

    Raises
    ------
    InputError
        Nothing that there is a chart of.

    Examples
    --------
    >>> import simulator
    >>> record = simulator.sample_weather()
    >>> days = simulator.run_season(record, simulator.Plan(), year=2015)
    >>> simulator.chart(days, weather=record).title[:23]
    'Rye sown Oct 20, 2015 m'
    """
    if isinstance(what, Reply):
        if given := [
            name
            for name, value in (("units", units), ("axes", axes), *more.items())
            if value is not None
        ]:
            raise fault(
                given[0],
                "A reply is drawn as it was asked for.",
                "Ask the question with units='si', or leave this out.",
            )
        return what.chart()
    if more.get("weather") is not None:
        more["weather"] = checked(more["weather"])
    for fits, module in _DRAWN_BY:
        if fits(what):
            drawn = import_module(f"simulator.answers.{module}").chart
            return Picture(drawn(what, units or _own_system(what), axes=axes, **more))
    raise fault(
        "chart",
        f"There is no chart of this {type(what).__name__}.",
        "Give a season from run_season, plans from compare, or the reply to a question.",
    )


def _own_system(what: Any) -> System:
    """Choose the units as the weather's country has them."""
    first = what[0] if isinstance(what, Sequence) else what
    for attribute in ("attrs", "about"):
        if hasattr(first, attribute):
            return system_of(getattr(first, attribute))
    return system_of((first.residue if hasattr(first, "residue") else first.grid).attrs)
