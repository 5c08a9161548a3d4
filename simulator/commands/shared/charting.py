"""The option --chart, and what commands do with it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from simulator.commands.shared import options
from simulator.problems import Parameter

CHART = click.option(
    "--chart",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw a chart to FILE.svg, .png, .pdf or .html.",
)


def check_chart(path: Path | None, inputs: Iterable[str | None]) -> None:
    """Refuse a chart's file that could not be written, before anything is run.

    Raises
    ------
    InputError
        As `check_destination`.
    """
    from simulator.show.charts import SUFFIXES
    from simulator.show.output import check_destination

    check_destination(
        path,
        inputs=inputs,
        option=Parameter("chart"),
        suffixes=SUFFIXES,
        called="one of the files read",
    )


def draw(chart: Any, path: Path | None) -> None:
    """Write a chart where a file is wanted, and say so; its first line names a page."""
    if path is None:
        return
    from simulator.show.charts import write_chart

    write_chart(chart, path, title=" ".join(chart.title.text))
    options.announce(f"Drawn: {path}.")
