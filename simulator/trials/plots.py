"""Every plot of a trial as one season of the model, ready to run again with other parameters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.season import plan as plans
from simulator.season.day_loop import BY_DATE, grow
from simulator.season.day_record import DAY
from simulator.season.drivers import season_drivers
from simulator.season.run import Seasons, cut_seasons, empty_days, latitude_of
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """One treatment mean or plot, as the model runs it.

    Parameters
    ----------
    site, cereal, fertilizer : str
    year : int
        Fall year.
    sown, sampled : str
        MM-DD, of the season that begins in ``year``.
    seeding : float
        [kg/ha].
    dressings : tuple of (str, float)
        MM-DD and nitrogen [kg/ha].
    mineral_nitrogen : float or None
        Nitrate and ammonium nitrogen in the soil on the morning of sowing [kg/ha]; None where it
        was not measured.
    mineral_nitrogen_depth : float or None
        Depth to which it was [cm]; None is that of `PreviousCrop`.
    """

    site: str
    year: int
    sown: str
    sampled: str
    seeding: float
    dressings: tuple[tuple[str, float], ...] = ()
    cereal: str = "rye"
    fertilizer: str = "ammonium nitrate"
    mineral_nitrogen: float | None = None
    mineral_nitrogen_depth: float | None = None


def crop_with_test(crop: soils.PreviousCrop, plot: Plot) -> soils.PreviousCrop:
    """Return a previous crop with the soil test of a plot, which holds on the day of sowing.

    Parameters
    ----------
    crop : PreviousCrop
        Comes back as it is where the plot has no test.
    plot : Plot
    """
    if plot.mineral_nitrogen is None:
        return crop
    depth = crop.soil_test_depth if plot.mineral_nitrogen_depth is None else (
        plot.mineral_nitrogen_depth)  # fmt: skip
    return replace(
        crop, soil_test_nitrogen=plot.mineral_nitrogen, soil_test_depth=depth,
        soil_test_day=float(plans.day_number(plot.year, plot.sown)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Season:
    cut: Seasons
    latitude: float


class PlotRuns:
    """Plots beside their weather; cuts the seasons once and runs them as often as asked.

    Parameters
    ----------
    plots : sequence of Plot
    records : mapping of str to Dataset(time)
        Weather of each site.

    Raises
    ------
    InputError
        A plot's site without weather, or a season that its weather does not cover.
    """

    def __init__(self, plots: Sequence[Plot], records: Mapping[str, xarray.Dataset]) -> None:
        self.plots = tuple(plots)
        filled = {site: fill_short_gaps(record) for site, record in records.items()}
        # plots of one site and sowing share weather; the latest sampling covers the others
        self._seasons = [
            _Season(
                cut_seasons(filled[p.site], [p.year], [p.sown], [plans.end(p.sampled)]),
                latitude_of(filled[p.site]),
            )
            for p in self.plots
        ]

    def simulate(
        self,
        cereal_sets: Mapping[str, cereals.Cereal],
        site_soils: Mapping[str, soils.Soil],
        site_crops: Mapping[str, soils.PreviousCrop],
    ) -> Array:
        """Run every plot.

        Parameters
        ----------
        cereal_sets : mapping of str to Cereal
        site_soils, site_crops : mapping of str to parameter set
            By site.

        Returns
        -------
        structured array (plot,) of `simulator.season.day_record.DAY`
            The day of sampling.
        """
        out = empty_days((len(self.plots), 1))
        no_days = np.empty(0, DAY)
        drivers: dict[tuple[Any, ...], Array] = {}
        for at, (plot, season) in enumerate(zip(self.plots, self._seasons, strict=True)):
            cereal = cereal_sets[plot.cereal].as_record()
            cut = season.cut
            span = (int(cut.spans[0, 0]), int(cut.spans[0, 1]))
            key = (plot.site, plot.year, plot.cereal, span)
            if key not in drivers:
                drivers[key] = season_drivers(
                    cut.tmax,
                    cut.tmin,
                    cut.rain,
                    cut.day_of_year,
                    season.latitude,
                    cut.spans,
                    cereal,
                )[0]
            soil = site_soils[plot.site]
            bottoms = soils.layer_bottoms(soil)
            grow(
                drivers[key], *span, plans.day_number(plot.year, plot.sown), plot.seeding,
                np.array([plans.day_number(plot.year, when) for when, _ in plot.dressings], int),
                np.array([amount for _, amount in plot.dressings], float),
                np.array([BY_DATE]), np.array([plans.day_number(plot.year, plot.sampled)]),
                np.array([np.nan]), cereal, soil.as_record(),
                crop_with_test(site_crops[plot.site], plot).as_record(),
                fertilizers.fertilizer(plot.fertilizer).as_record(), bottoms,
                out[at], no_days, np.empty((0, bottoms.size)),
            )  # fmt: skip
        return out[:, 0]
