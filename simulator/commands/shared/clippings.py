"""What was measured of a stand: --measured."""

from __future__ import annotations

import click

MEASURED = click.option(
    "--measured",
    multiple=True,
    metavar="'WHAT on MM-DD'",
    help="What was measured of the stand, with its day: dry biomass '850 lb/acre on 01-20', "
    "growth stage 'zadoks 30 on 02-14' or 'jointing on 02-14', green cover '40 percent cover on "
    "01-10', or nitrate nitrogen in the soil '25 lb/acre nitrate to 24 inch on 02-01'; give it "
    "again for more.",
)
