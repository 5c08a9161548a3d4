"""Options that commands of trials share: plots, and each site's weather, soil and crop before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import click

from simulator.commands import options
from simulator.problems import InputError, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.soils import PreviousCrop, Soil
    from simulator.trials.observations import Plots

TRIAL = (
    click.option("--plots", required=True, metavar="FILE",
                 help="The plot table: site, latitude, sown, sampled, biomass (lb/acre), and more "
                 "if known."),
    click.option("--weather", "weather", multiple=True, required=True, metavar="SITE=FILE",
                 help="Weather of a site of the plot table; given again for each."),
    click.option("--soil", "soil", multiple=True, metavar="[SITE=]TEXTURE",
                 help="Soil of a site, or of all.  [default: as the plot table says, else sandy "
                 "loam]"),
    click.option("--previous-crop", "previous_crop", multiple=True, metavar="[SITE=]CROP",
                 help="Crop before, at a site or at all.  [default: as the plot table says, else "
                 "cotton]"),
    click.option("--date-format", metavar="FORM",
                 help="How dates are written in the plot table, such as DD/MM/YYYY."),
    click.option("--units-of-file", type=click.Choice(["us", "si"]),
                 help="Units of weather files whose header has none."),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trial:
    """What the options of a trial name.

    Parameters
    ----------
    plots : Plots
    records : dict of str to Dataset(time)
        Weather by site.
    site_soils, site_crops : dict of str to parameter set
        By site.
    notes : list of str
        Which of them are defaults.
    """

    plots: Plots
    records: dict[str, xr.Dataset]
    site_soils: dict[str, Soil]
    site_crops: dict[str, PreviousCrop]
    notes: list[str]


def load_trial(
    *, plots: str, weather: Sequence[str], soil: Sequence[str] = (),
    previous_crop: Sequence[str] = (), date_format: str | None = None,
    units_of_file: str | None = None,
) -> Trial:  # fmt: skip
    """Read what the options of `TRIAL` name.

    Raises
    ------
    InputError
        Every fault of the plot table and of the options, and of each weather file.
    """
    from simulator.parameters import soils
    from simulator.trials import agreement
    from simulator.trials.observations import read_plots

    problems: list[Problem] = []
    table = options.gathered(problems, partial(read_plots, plots, date_format=date_format))
    records: dict[str, xr.Dataset] = {}
    for text in weather:
        site, _, file = text.partition("=")
        site = " ".join(site.split())
        if not site or not file.strip():
            problems.append(Problem("--weather", f"'{text}' does not say which site it is of.",
                                    "Write SITE=FILE, such as headland=station.csv."))  # fmt: skip
        elif site in records:
            problems.append(Problem("--weather", f"The site '{site}' is given twice.",
                                    "Give one file a site."))  # fmt: skip
        else:
            about = {} if units_of_file is None else {"units_of_file": units_of_file}
            load = partial(options.load_weather, file.strip(), need_latitude=False, **about)
            read = options.gathered(problems, load)
            if read is not None:
                records[site] = read
    if table is None:
        raise InputError(problems)
    site_soils = options.gathered(problems, partial(
        agreement.by_site, table, soil, "soil", soils.soil, agreement.DEFAULT_SOIL))  # fmt: skip
    site_crops = options.gathered(problems, partial(
        agreement.by_site, table, previous_crop, "previous_crop", soils.previous_crop,
        agreement.DEFAULT_CROP))  # fmt: skip
    if problems or site_soils is None or site_crops is None:
        raise InputError(problems)
    return Trial(table, records, site_soils[0], site_crops[0], [*site_soils[1], *site_crops[1]])
