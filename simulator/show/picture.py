"""A chart as a notebook shows it, picked by what it is given, without a network."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from simulator.problems import fault
from simulator.show import charts
from simulator.show.answer import Reply
from simulator.show.output import check_destination
from simulator.units import System, system_of
from simulator.weather.record_check import checked


class Picture:
    """A chart that a notebook shows as it stands: drawn here, not by a script from the network.

    Parameters
    ----------
    chart : Chart
        An Altair chart with its title, from `charts.finish`.

    Attributes
    ----------
    chart : Chart
        The same, to be changed or put together with others.
    """

    def __init__(self, chart: charts.Chart) -> None:
        self.chart = chart

    @property
    def title(self) -> str:
        """What the chart shows, as a sentence."""
        return " ".join(self.chart.title.text)

    def save(self, path: str | Path) -> None:
        """Write the chart to FILE.svg, .png, .pdf or .html.

        Raises
        ------
        InputError
            Another suffix, a folder that is not there, or where the disk refuses.
        """
        target = Path(path)
        check_destination(target, option="path", suffixes=charts.SUFFIXES)
        charts.write_chart(self.chart, target, title=self.title)

    def to_dict(self) -> dict[str, Any]:
        """Return the chart as Vega-Lite has it."""
        found: dict[str, Any] = self.chart.to_dict()
        return found

    def __repr__(self) -> str:
        return f"<chart: {self.title}>"

    def _repr_mimebundle_(
        self, include: Iterable[str] | None = None, exclude: Iterable[str] | None = None
    ) -> dict[str, str | bytes]:
        makers: dict[str, Callable[[], str | bytes]] = {
            "image/svg+xml": lambda: charts.svg(self.chart),
            "image/png": lambda: charts.png(self.chart, dots=1.0),
            "text/plain": lambda: repr(self),
        }
        wanted = set(makers if include is None else include) - set(exclude or ())
        return {kind: make() for kind, make in makers.items() if kind in wanted}


def _has(*names: str) -> Callable[[Any], bool]:
    """Return a test for a Dataset of ours by its dimensions and variables."""
    return lambda what: all(name in getattr(what, "variables", ()) for name in names)


def _is(*kinds: str) -> Callable[[Any], bool]:
    """Return a test for an answer by the names of its class and of what it is made of."""
    return lambda what: type(what).__name__ in kinds


# what is given -> the module that draws it; the first that fits
_DRAWN_BY: tuple[tuple[Callable[[Any], bool], str], ...] = (
    (_has("time", "growth_stage_zadoks"), "season_chart"),
    (_has("counted_by", "thermal_time_degC_d"), "degree_days_chart"),
    (_has("end", "kill_rolled"), "timing_chart"),
    (_has("site", "sow", "left_out"), "place_grid_chart"),
    (_has("sow", "nitrogen", "case"), "whatif_chart"),
    (_has("sow", "nitrogen", "biomass_kg_ha"), "sowing_chart"),
    (_is("Cover"), "cover_chart"),
    (_is("Why"), "why_chart"),
    (lambda what: isinstance(what, Sequence) and bool(what) and _is("Risk")(what[0]), "risk_chart"),
)


def chart(
    what: Any, *, units: System | None = None, axes: charts.Axes | None = None,
    **more: Any,
) -> Picture:  # fmt: skip
    """Draw what was reckoned: the chart is picked by what it is.

    Parameters
    ----------
    what : Dataset, or an answer
        A season from `run_season`; plans from `compare`, with or without changed weather; many
        places from `run_grid`; sums from `advice.degree_days.degree_days`; dates of ending from
        `advice.termination.timing`; the reply to a question, such as `whatif`; a `Cover`, a `Why`,
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
        if given := [name for name, value in (("units", units), ("axes", axes), *more.items())
                     if value is not None]:  # fmt: skip
            raise fault(given[0], "A reply is drawn as it was asked for.",
                        "Ask the question with units='si', or leave this out.")  # fmt: skip
        return what.chart()
    if more.get("weather") is not None:
        more["weather"] = checked(more["weather"])
    for fits, module in _DRAWN_BY:
        if fits(what):
            drawn = import_module(f"simulator.show.{module}").chart
            return Picture(drawn(what, units or _own_system(what), axes=axes, **more))
    raise fault(
        "chart", f"There is no chart of this {type(what).__name__}.",
        "Give a season from run_season, plans from compare, or the reply to a question.",
    )  # fmt: skip


def _own_system(what: Any) -> System:
    """Choose the units as the weather's country has them."""
    first = what[0] if isinstance(what, Sequence) else what
    for part in ("attrs", "about"):
        if hasattr(first, part):
            return system_of(getattr(first, part))
    return system_of((first.after if hasattr(first, "after") else first.grid).attrs)
