"""Options that commands of trials share: plots, and each site's weather, soil and crop before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.problems import InputError, Parameter, Problem, printable

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.cereals import Cereal
    from simulator.parameters.files import ParameterFile
    from simulator.parameters.soils import PreviousCrop, Soil
    from simulator.trials.observations import Plots

TRIAL_OPTIONS = (
    click.option(
        "--plots",
        required=True,
        metavar="FILE",
        help="The plot table: site, latitude, sown, sampled, biomass (lb/acre), and more if known.",
    ),
    click.option(
        "--weather",
        "weather",
        multiple=True,
        required=True,
        metavar="SITE=FILE",
        help="Weather of a site of the plot table; given again for each.",
    ),
    click.option(
        "--soil",
        "soil",
        multiple=True,
        metavar="[SITE=]TEXTURE",
        help="Soil of a site, or of all.  [default: as the plot table says, else sandy loam]",
    ),
    click.option(
        "--previous-crop",
        "previous_crop",
        multiple=True,
        metavar="[SITE=]CROP",
        help="Crop before, at a site or at all.  [default: as the plot table says, else cotton]",
    ),
    click.option(
        "--date-format",
        metavar="FORM",
        help="How dates are written in the plot table, such as DD/MM/YYYY.",
    ),
    click.option(
        "--units-of-file",
        type=click.Choice(["us", "si"]),
        help="Units of weather files whose header has none.",
    ),
    options.PARAMETERS,
)


@dataclass(frozen=True, slots=True)
class TrialInputs:
    """What the options of a trial name.

    Parameters
    ----------
    plots : Plots
    records : dict of str to Dataset(time)
        Weather by site.
    site_soils, site_crops : dict of str to parameter set
        By site.
    cereals : dict of str to Cereal
        By name.
    notes : list of str
        Which of them are defaults.
    """

    plots: Plots
    records: dict[str, xr.Dataset]
    site_soils: dict[str, Soil]
    site_crops: dict[str, PreviousCrop]
    cereals: dict[str, Cereal]
    notes: list[str]


def load_trial(
    *,
    plots: str,
    weather: Sequence[str],
    soil: Sequence[str] = (),
    previous_crop: Sequence[str] = (),
    date_format: str | None = None,
    units_of_file: str | None = None,
    parameters: str | None = None,
) -> TrialInputs:
    """Read what the options of `TRIAL_OPTIONS` name.

    Raises
    ------
    InputError
        Every fault of the plot table and of the options, and of each weather file and the
        parameter file.
    """
    from simulator.parameters.cereals import CEREALS
    from simulator.trials import agreement
    from simulator.trials.observations import read_plots

    problems: list[Problem] = []
    read_file = plan_options.gathered(problems, partial(options.load_parameters, parameters))
    changed = read_file or options.load_parameters()
    table = plan_options.gathered(problems, partial(read_plots, plots, date_format=date_format))
    if (given := weather_options.records_given()) is not None:
        records = dict(given)
    else:
        records = weather_by_site(weather, units_of_file, problems)
    if table is None:
        raise InputError(problems)
    soil, previous_crop = _with_file(table, changed, soil, previous_crop)
    site_soils = plan_options.gathered(
        problems,
        partial(agreement.by_site, table, soil, "soil", changed.soil_set, agreement.DEFAULT_SOIL),
    )
    site_crops = plan_options.gathered(
        problems,
        partial(
            agreement.by_site,
            table,
            previous_crop,
            "previous_crop",
            changed.previous_crop_set,
            agreement.DEFAULT_CROP,
        ),
    )
    if problems or site_soils is None or site_crops is None:
        raise InputError(problems)
    sets = {
        site: changed.site_sets(site, site_soils[0][site].name, site_crops[0][site].name)
        for site in table.sites
    }
    own = [site for site, about in changed.site.items() if "organic_matter" in about.values]
    grounds = agreement.with_organic_matter(
        table, {site: ground for site, (ground, _) in sets.items()}, own
    )
    return TrialInputs(
        table,
        records,
        grounds,
        {site: crop for site, (_, crop) in sets.items()},
        {name: changed.cereal_set(name) for name in CEREALS},
        [*site_soils[1], *site_crops[1]],
    )


def weather_by_site(
    weather: Sequence[str], units_of_file: str | None, problems: list[Problem]
) -> dict[str, xr.Dataset]:
    """Read the file of each SITE=FILE; faults are added to the others."""
    records: dict[str, xr.Dataset] = {}
    for text in weather:
        site, _, file = text.partition("=")
        site = " ".join(printable(site).split())
        if not site or not file.strip():
            problems.append(
                Problem(
                    Parameter("weather"),
                    f"'{text}' does not say which site it is of.",
                    "Write SITE=FILE, such as headland=station.csv.",
                )
            )
        elif site in records:
            problems.append(
                Problem(
                    Parameter("weather"),
                    f"The site '{site}' is given twice.",
                    "Give one file a site.",
                )
            )
        else:
            about = {} if units_of_file is None else {"units_of_file": units_of_file}
            load = partial(weather_options.load_weather, file.strip(), need_latitude=False, **about)
            read = plan_options.gathered(problems, load)
            if read is not None:
                records[site] = read
    return records


def _with_file(
    table: Plots, file: ParameterFile, soil: Sequence[str], previous_crop: Sequence[str]
) -> tuple[list[str], list[str]]:
    """Add a parameter file's soils and crops of sites to those that the command line leaves open.

    The command line goes before the file, and the file before the plot table.
    """
    found = []
    for given, key in ((soil, "soil"), (previous_crop, "previous_crop")):
        named = {" ".join(text.rpartition("=")[0].split()) for text in given}
        open_sites = [] if "" in named else [s for s in table.sites if s not in named]
        own = {s: getattr(file.site[s], key) for s in open_sites if s in file.site}
        found.append([*given, *(f"{site}={name}" for site, name in own.items() if name)])
    return found[0], found[1]
