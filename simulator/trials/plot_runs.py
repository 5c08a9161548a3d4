"""Every plot of a trial simulated, as often as asked, with other parameters each time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.season import plan as plans
from simulator.season.arrays import empty_days
from simulator.season.day import calendar
from simulator.season.day.loop import grow_groups
from simulator.season.day.state import MOST_LAYERS
from simulator.season.seasons import Seasons, cut_seasons, latitude_of
from simulator.weather.files.record_check import checked
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
    depth = (
        crop.soil_test_depth
        if plot.mineral_nitrogen_depth is None
        else (plot.mineral_nitrogen_depth)
    )
    return replace(
        crop,
        soil_test_nitrogen=plot.mineral_nitrogen,
        soil_test_depth=depth,
        soil_test_day=float(plans.day_number(plot.year, plot.sown)),
    )


@dataclass(slots=True)
class _Group:
    """Stands of one field and season: they share its weather and what the soil began with.

    Parameters
    ----------
    site, cereal, fertilizer : str
    first : Plot
        Whose soil test holds for all.
    cut : Seasons
        One season, from the soil's first day to the last sampling.
    latitude : float
    stands : list of (int, float, tuple)
        Sowing day, seeding rate and dressings of each: what a plot is but for its sampling.
    ends : list of int
        Season days of sampling; each stand is looked at on all of them.
    rows : list of (int, int, int)
        Plot, its stand and its end.
    """

    site: str
    cereal: str
    fertilizer: str
    first: Plot
    cut: Seasons
    latitude: float
    stands: list[tuple[int, float, tuple[tuple[int, float], ...]]] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    rows: list[tuple[int, int, int]] = field(default_factory=list)

    def add(self, at: int, plot: Plot) -> None:
        """Take a plot in."""
        day = plans.day_number
        dressings = tuple((day(plot.year, when), amount) for when, amount in plot.dressings)
        stand = (day(plot.year, plot.sown), plot.seeding, dressings)
        end = day(plot.year, plot.sampled)
        if stand not in self.stands:
            self.stands.append(stand)
        if end not in self.ends:
            self.ends.append(end)
        self.rows.append((at, self.stands.index(stand), self.ends.index(end)))


class PlotRuns:
    """Plots beside their weather; cuts the seasons once and runs them as often as asked.

    Samplings of one stand are one run, stands of one field share their days, and all of a trial
    goes to the compiled loop in one call.

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
        filled = {site: fill_short_gaps(checked(record)) for site, record in records.items()}
        alike: dict[tuple[Any, ...], list[int]] = {}
        for at, p in enumerate(self.plots):
            cut = cut_seasons(filled[p.site], [p.year], [p.sown], [plans.end(p.sampled)])
            tested = (p.mineral_nitrogen, p.mineral_nitrogen_depth, p.sown)
            key = (
                p.site,
                p.year,
                p.cereal,
                p.fertilizer,
                int(cut.spans[0, 0]),
                tested if p.mineral_nitrogen is not None else None,
            )
            alike.setdefault(key, []).append(at)
        self._groups: list[_Group] = []
        self._met: tuple[bytes, Array] | None = None  # weather as the last cereals met it
        for some in alike.values():
            few = [self.plots[at] for at in some]
            one = few[0]
            record = filled[one.site]
            cut = cut_seasons(
                record, [one.year], [p.sown for p in few], [plans.end(p.sampled) for p in few]
            )
            group = _Group(one.site, one.cereal, one.fertilizer, one, cut, latitude_of(record))
            for at in some:
                group.add(at, self.plots[at])
            self._groups.append(group)
        self._build_arrays()

    def _build_arrays(self) -> None:
        """Lay the groups out as arrays, as `simulator.season.day.loop.grow_groups` wants them."""
        groups = self._groups
        stands = [stand for group in groups for stand in group.stands]
        most = max((len(dressings) for *_, dressings in stands), default=0)
        self._dressing_days = np.full((len(stands), max(most, 1)), calendar.NEVER, np.int64)
        self._dressing_amounts = np.zeros(self._dressing_days.shape)
        for at, (_, _, dressings) in enumerate(stands):
            for one, (day, amount) in enumerate(dressings):
                self._dressing_days[at, one], self._dressing_amounts[at, one] = day, amount
        self._sow_days = np.array([day for day, *_ in stands], np.int64)
        self._seedings = np.array([seeding for _, seeding, _ in stands])
        self._spans = np.stack([group.cut.spans[0] for group in groups])
        self._first_stand = np.cumsum([0, *(len(group.stands) for group in groups)])
        self._end_days = np.array([day for group in groups for day in group.ends], np.int64)
        self._first_end = np.cumsum([0, *(len(group.ends) for group in groups)])
        sizes = [len(group.stands) * len(group.ends) for group in groups]
        self._first_out = np.cumsum([0, *sizes])
        self._place = np.empty(len(self.plots), np.int64)
        for group, first in zip(groups, self._first_out, strict=False):
            for at, stand, end in group.rows:
                self._place[at] = first + stand * len(group.ends) + end

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
        structured array (plot,) of `simulator.season.day.record.DAY`
            The day of sampling.
        """
        groups = self._groups
        own_soils = [site_soils[group.site].at(group.latitude) for group in groups]
        own_bottoms = [soils.layer_bottoms(soil) for soil in own_soils]
        bottoms = np.zeros((len(groups), MOST_LAYERS))
        for at, depths in enumerate(own_bottoms):
            bottoms[at, : depths.size] = depths
        out = empty_days((int(self._first_out[-1]),))
        grow_groups(
            self._drivers(cereal_sets),
            self._spans,
            self._first_stand,
            self._first_end,
            self._first_out,
            self._sow_days,
            self._seedings,
            self._dressing_days,
            self._dressing_amounts,
            self._end_days,
            _records([cereal_sets[group.cereal] for group in groups]),
            _records(own_soils),
            _records([crop_with_test(site_crops[group.site], group.first) for group in groups]),
            _records([fertilizers.fertilizer(group.fertilizer) for group in groups]),
            bottoms,
            np.array([depths.size for depths in own_bottoms]),
            out,
        )
        return out[self._place]

    def _drivers(self, cereal_sets: Mapping[str, cereals.Cereal]) -> Array:
        """Weather of every group as its cereal meets it; kept as long as the cereals are."""
        records = {group.cereal: cereal_sets[group.cereal].as_record() for group in self._groups}
        cereals_met = b"".join(records[name].tobytes() for name in sorted(records))
        met = self._met  # taken once: another thread may put its own cereals there meanwhile
        if met is not None and met[0] == cereals_met:
            return met[1]
        known: dict[tuple[Any, ...], Array] = {}
        made = []
        for group in self._groups:
            cut = group.cut
            key = (group.site, cut.years[0], group.cereal, *cut.spans[0])
            if key not in known:
                known[key] = cut.drivers(group.latitude, records[group.cereal])[0]
            made.append(known[key])
        weather = np.stack(made)
        self._met = (cereals_met, weather)
        return weather


def _records(sets: Sequence[Any]) -> Array:
    """Put the loop's forms of parameter sets one behind the other."""
    records = [one.as_record() for one in sets]
    laid = np.empty(len(records), records[0].dtype)  # np.concatenate compares all fields
    for at, record in enumerate(records):
        laid[at] = record[0]
    return laid
