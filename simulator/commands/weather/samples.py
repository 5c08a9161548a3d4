"""``fallsown samples``: the packaged weather of invented places."""

from __future__ import annotations

import json

import click

from simulator import __version__
from simulator.commands.shared import options


@click.command("samples", short_help="List the packaged sample weather.")
@options.with_options(options.JSON, options.DEBUG_OPTION)
def command(as_json: bool) -> None:
    """List the packaged sample weather: invented places in contrasting climates.

    Each name can be given to --weather; the first is used where none is given.
    """
    from simulator.show.tables import Column, table
    from simulator.weather.samples import FALLS, FIRST_FALL, samples

    known = samples().values()
    if as_json:
        rows = [
            {
                "name": one.name,
                "site": one.place,
                "latitude": one.latitude,
                "climate": one.climate,
                "invented": True,
            }
            for one in known
        ]
        click.echo(
            json.dumps(
                {
                    "command": "samples",
                    "version": __version__,
                    "inputs": {},
                    "units": {"latitude": "degrees north"},
                    "cautions": [],
                    "rows": rows,
                },
                indent=1,
            )
        )
        return
    columns = [
        Column("name", left=True),
        Column("place", left=True),
        Column("latitude", "degrees N"),
        Column("climate", left=True),
    ]
    click.echo(
        table(columns, [[one.name, one.place, f"{one.latitude:.1f}", one.climate] for one in known])
    )
    click.echo(
        f"\nAll are invented places with generated weather, falls {FIRST_FALL} to "
        f"{FIRST_FALL + FALLS - 1}."
    )
