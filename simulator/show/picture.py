"""A chart as a notebook shows it, without a network."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from simulator.show import charts
from simulator.show.output import check_destination


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
