"""``fallsown risk``: how surely plans reach a target, and what they cost in nitrate."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options
from simulator.commands.shared.charting import draw
from simulator.commands.shared.many_places import (
    GRID,
    MAP,
    OF_GRID,
    OVERWRITE,
    STORES,
    WORKERS,
    grid_in,
    new_file,
    refuse_given,
    shown_units,
    size_of,
)
from simulator.commands.shared.measured import soil_finder, with_soil_test
from simulator.commands.shared.sources import Source, check_longitudes, find_sources, records
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import InputError, Parameter, Problem, Text, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.risk.ask import Risk
    from simulator.parameters.soils import Soil
    from simulator.show.answer import Reply
    from simulator.units import System


@click.command("risk", short_help="How surely is a target reached, by how late a sowing?")
@click.option(
    "--target",
    default="4000 lb/acre",
    show_default=True,
    metavar="MASS",
    help="Biomass to reach, with its unit.",
)
@click.option(
    "--chance",
    default=80,
    show_default=True,
    metavar="PERCENT",
    type=click.IntRange(1, 99),
    help="Share of falls in which the latest sowing must still reach it; 80 is four years in five.",
)
@click.option(
    "--weather",
    multiple=True,
    metavar="FILE|FOLDER|STORE|SAMPLE",
    help="A weather file, a folder of them, a table of many stations, netCDF or zarr of "
    "many sites, or a packaged sample; may be given again.  [default: the sample "
    "tallow-bend]",
)
@click.option(
    "--kinds",
    metavar="HOW|FILE",
    help="Sort falls by 'fall rain', 'fall temperature' or 'fall' (both), in thirds of "
    "the record's own; or by a file: your list (year,kind) or the Oceanic Nino Index.",
)
@click.option(
    "--kinds-season",
    default="OND",
    show_default=True,
    metavar="MONTHS",
    help="Season of the Oceanic Nino Index.",
)
@click.option(
    "--weights",
    metavar="TEXT",
    help="A forecast of the kind of year, such as 'wet 50, normal 30, dry 20'.  [kinds: fall rain]",
)
@click.option(
    "--chart",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Draw how often biomass is reached, of many places a map: FILE.svg, .png, .pdf or .html.",
)
@MAP
@click.option(
    "--generate",
    type=click.IntRange(5, 450),
    metavar="YEARS",
    help="Lengthen each record to so many falls by drawing from it.",
)
@click.option(
    "--method",
    type=click.Choice(["resampled", "fitted"]),
    default="resampled",
    show_default=True,
    help="Of --generate: real seasons drawn anew, or days of a generator fitted to the record.",
)
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Of --generate: the same number gives the same weather.",
)
@click.option(
    "--latest/--no-latest",
    default=None,
    help="Seek the latest sowing too, which takes most of the time.  [default: for up "
    "to 10 places]",
)
@options.with_options(
    options.PLANS,
    options.YEARS,
    options.ABOUT_FILE,
    options.FIELD,
    options.OUTPUT,
    WORKERS,
    GRID,
    OVERWRITE,
    options.DEBUG_OPTION,
)
def command(
    weights: str | None,
    units: str | None,
    chart: Path | None,
    map_: Path | None,
    as_json: bool,
    out: Path | None,
    grid: Path | None,
    **asked: Any,
) -> None:
    """How surely each plan reaches a target, and the latest sowing that still does.

    For one place, several or thousands; over all falls, by kind of year, and for a forecast of the
    kind. Chances have intervals that say how few falls there are. Nitrate lost is held against the
    limit for drinking water. More than ten places are ranked in one table, and shared by workers.
    """
    from simulator.answers.places.risk import shortened, write_map
    from simulator.commands.shared.answering import give

    found = find(
        weights=weights,
        units=units,
        chart=chart,
        map_=map_,
        as_json=as_json,
        out=out,
        grid=grid,
        **asked,
    )
    reply, rows = reply_of(found, weights=weights, asked=units, mapped=map_ is not None)
    if chart is not None and reply.draw is not None:
        draw(reply.draw(), chart)
    if map_ is not None:
        write_map(rows, reply.answer, map_)
        options.announce(f"Mapped: {map_}.")
    short = (
        reply
        if found.in_full
        else replace(reply, answer=shortened(reply.answer, "--json and --out"))
    )
    give(reply.answer, "" if as_json else short.text, as_json=as_json, out=out)
    if grid is not None:
        options.announce(
            f"Kept: {grid}; the same command with another --target or --chance is answered from it."
        )


def ask(**asked: Any) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    reply, _ = reply_of(find(**asked), weights=asked["weights"], asked=asked["units"], mapped=False)
    return reply


def find(
    *,
    target: str,
    chance: int,
    weather: tuple[str, ...],
    kinds: str | None,
    kinds_season: str,
    weights: str | None,
    chart: Path | None,
    map_: Path | None,
    generate: int | None,
    method: Any,
    seed: int,
    latest: bool | None,
    sow: tuple[str, ...],
    seeding: tuple[str, ...],
    nitrogen: tuple[str, ...],
    nitrogen_timing: tuple[str, ...],
    end: tuple[str, ...],
    years: str,
    units: str | None,
    as_json: bool,
    out: Path | None,
    grid: Path | None,
    **asked: Any,
) -> Found:
    """Read the question and work out every place."""
    from simulator.answers.risk.data import MOST_IN_FULL
    from simulator.weather.year_types import FALL_RAIN

    file = options.load_parameters(asked["parameters"])
    shared = {name: asked.pop(name) for name in OF_GRID if name in asked}
    about, field = options.split_field(asked)
    written = {"out": out, "chart": chart, "map": map_, "grid": grid}
    check_files(written, [*weather, kinds])
    plans = options.plans(
        sow=sow, seeding=seeding, nitrogen=nitrogen, nitrogen_timing=nitrogen_timing, end=end
    )
    soil_of = soil_finder(file)
    question = Question(
        plans=plans,
        field=with_soil_test(field, plans),
        soil_of=soil_of,
        years=options.parse_years(years),
        target=read_target(target),
        often=chance / 100,
        kinds=FALL_RAIN if kinds is None and weights is not None else kinds,
        kinds_season=kinds_season,
        weights=weights,
        generate=generate,
        method=method,
        seed=seed,
    )
    question.check()
    sources, problems = find_sources(weather, about, soil_of)
    check_files(written, {one.place.source for one in sources if one.place is not None})
    in_full = len(sources) <= MOST_IN_FULL
    for path, name in ((map_, "map"), (None if in_full else chart, "chart")):
        if path is not None:
            check_longitudes(sources, Parameter(name))
    latest = in_full if latest is None else latest
    found = Found(
        problems=problems,
        left_out=[str(problem) for problem in problems],
        several=len(sources) > 1,
        in_full=in_full,
        kinds=question.kinds,
    )
    if in_full or latest or question.needs_record or any(one.alone for one in sources):
        refuse_given(
            OF_GRID,
            f"This option is for more than {MOST_IN_FULL} places of folders or "
            "of files of many, without --kinds, --weights, --generate and --latest.",
            "Leave it out.",
        )
        with options.progress(len(sources)) as done:
            for name, record in records(sources, about):
                found.add(name, partial(question.answer, record, latest=latest))
                done(1)
    else:
        grow_together(found, question, sources, about, grid, **shared)
    return found


def check_files(written: Mapping[str, Path | None], inputs: Iterable[str | None]) -> None:
    """Refuse files that cannot be written, or that are read.

    Raises
    ------
    InputError
        As `simulator.show.output.check_destination`.
    """
    from simulator.answers.places.risk import MAP_SUFFIXES
    from simulator.show.charts import SUFFIXES
    from simulator.show.output import check_destination

    endings = {
        "out": (".csv", ".nc"),
        "chart": SUFFIXES,
        "map": MAP_SUFFIXES,
        "grid": STORES,
    }
    read = list(inputs)
    for name, path in written.items():
        check_destination(
            new_file(path) if name == "grid" else path,
            inputs=read,
            option=Parameter(name),
            suffixes=endings[name],
            called="one of the files read",
        )


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked of each place.

    Parameters
    ----------
    plans, field : dict
        Arguments of `compare`.
    soil_of : callable
        Finds the soil that a place names.
    years : list of int or None
    target : float
        [kg/ha].
    often : float
        Share of falls for the latest sowing.
    kinds, weights : str or None
        How falls are sorted, and a forecast of the kind.
    kinds_season : str
        Of the Oceanic Nino Index.
    generate : int or None
        Falls to make from each record, by ``method`` and ``seed``.
    """

    plans: dict[str, Any]
    field: dict[str, Any]
    soil_of: Callable[[str], Soil]
    years: list[int] | None
    target: float
    often: float
    kinds: str | None
    kinds_season: str
    weights: str | None
    generate: int | None
    method: Any
    seed: int

    def check(self) -> None:
        """Refuse what does not go together.

        Raises
        ------
        InputError
            An end by biomass; years of generated falls.
        """
        if massive := [text for text in self.plans["end"] if "/" in text]:
            raise fault(
                Parameter("end"),
                f"'{massive[0]}' is a biomass, which the risk is to tell.",
                "Write a date or a stage.",
            )
        if self.generate is not None and self.years is not None:
            raise fault(
                Parameter("years"),
                "Generated falls are no years of the record.",
                Text("Leave ", Parameter("years"), " or ", Parameter("generate"), " out."),
            )

    @property
    def needs_record(self) -> bool:
        """Whether seasons alone do not answer it."""
        return self.kinds is not None or self.generate is not None

    def answer(self, record: xr.Dataset | InputError, *, latest: bool = False) -> Risk:
        """Answer it from the record of a place.

        Raises
        ------
        InputError
            The record, where it is one; as `simulator.answers.risk.ask.risk_at`.
        """
        from simulator.answers.risk import ask as risk
        from simulator.commands.shared.answering import check_size
        from simulator.weather.generator.generated import generate_weather
        from simulator.weather.year_types import kinds_of_year, parse_weights

        if isinstance(record, InputError):
            raise record
        own = {"soil": self.soil_of(record.attrs["soil"])} if "soil" in record.attrs else {}
        plans = self.plans
        sowings = covered_sowings(record, plans["sow"], plans["end"], self.years)
        recorded, kinds = None, None
        if self.generate is not None:
            recorded = risk.whole_falls(record, sowings, plans["end"])
            record = generate_weather(record, self.generate, self.seed, self.method)
        check_size(self.years, record, *(len(plans[name]) for name in plans if name != "end"))
        if self.kinds is not None:
            kinds = kinds_of_year(record, self.kinds, season=self.kinds_season)
        forecast = None if self.weights is None else parse_weights(self.weights, kinds or {})
        return risk.risk_at(
            record,
            {**plans, "sow": sowings},
            {**self.field, **own},
            target=self.target,
            often=self.often,
            years=self.years,
            kinds=kinds,
            weights=forecast,
            recorded=recorded,
            latest=latest,
            announce=options.announce,
        )

    def answer_from(self, seasons: xr.Dataset) -> Risk:
        """Answer it from the seasons of a place of a grid.

        Raises
        ------
        InputError
            As `simulator.answers.risk.ask.risk_in`.
        """
        from simulator.answers.risk.ask import risk_in

        return risk_in(seasons, target=self.target, often=self.often)


def grow_together(
    found: Found,
    question: Question,
    sources: Sequence[Source],
    about: dict[str, Any],
    store: Path | None,
    **shared: Any,
) -> None:
    """Answer for thousands of places from one grid, which workers share.

    Raises
    ------
    InputError
        As `simulator.season.grid.run_grid`.
    """
    from simulator.answers.places.ask import each_place, without_season
    from simulator.answers.risk.ask import FIELDS

    places = [one.place for one in sources if one.place is not None]
    with grid_in(
        store,
        places,
        fields=FIELDS,
        years=question.years,
        soil_of=question.soil_of,
        **question.plans,
        **question.field,
        **shared,
    ) as grid:
        found.units = shown_units(None, places)
        if store is not None:
            found.keep(store, grid)
        of_each = each_place(grid, places, question.soil_of)
        empty = zip(sources, without_season(grid), strict=True)
        alone = records([one for one, without in empty if without], about)
        with options.progress(len(places)) as done:
            for one, seasons in zip(sources, of_each, strict=True):
                if seasons is not None:
                    found.add(one.title, partial(question.answer_from, seasons))
                else:  # it says why, or takes those of the usual sowings that its falls cover
                    name, record = next(alone)
                    found.add(name, partial(question.answer, record))
                done(1)


@dataclass
class Found:
    """The risk of places, one after the other, and what is to be said of them.

    Parameters
    ----------
    places : list of Risk
    units : str
        Of the first record: ``us`` or ``si``, as its place or its file has them.
    problems : list of Problem
        All faults, for the case that no place is left.
    left_out, cautions : list of str
    notes : list of (str, str)
        Place and what is noted of it.
    several : bool
        Whether each is told with the name of its place.
    in_full : bool
        Whether each is told by itself, not all in one table.
    kinds : str or None
        How falls are sorted.
    falls_left_out : dict of str to int
        Falls without whole weather, by place.
    filled, invented : int
        Places whose short gaps were filled, and those that do not exist.
    store : dict of str
        Where the grid behind it is kept.
    sentences : list of str
        What is to be said of that.
    """

    problems: list[Problem]
    left_out: list[str]
    several: bool
    in_full: bool
    kinds: str | None
    places: list[Risk] = dataclass_field(default_factory=list)
    units: str | None = None
    notes: list[tuple[str, str]] = dataclass_field(default_factory=list)
    cautions: list[str] = dataclass_field(default_factory=list)
    falls_left_out: dict[str, int] = dataclass_field(default_factory=dict)
    filled: int = 0
    invented: int = 0
    store: dict[str, str] = dataclass_field(default_factory=dict)
    sentences: list[str] = dataclass_field(default_factory=list)

    def keep(self, store: Path, grid: xr.Dataset) -> None:
        """Note where the grid behind it is kept."""
        from simulator.answers.places.grid import kept_at

        self.store = {"store": str(store)}
        self.sentences = [kept_at(grid, store, size_of(store))]

    def add(self, name: str, risk_of: Callable[[], Risk]) -> None:
        """Work out a place; where that fails, name it among the left out."""
        from simulator.answers.risk.words import notes
        from simulator.show.cautions import cautions, dead_stands

        try:
            one = risk_of()
        except InputError as error:
            self.problems += error.problems
            more = len(error.problems) - 1
            first = error.problems[0].text(options.spelling())
            told = first if first.startswith(name) else f"{name}: {first}"
            self.left_out.append(f"{told} ({more:,} more faults.)" if more else told)
            return
        attrs = one.grid.attrs
        self.units = self.units or options.shown_units(None, one.grid)
        self.invented += attrs.get("invented") == "yes"
        self.filled += bool(attrs.get("filled"))
        named = attrs if self.in_full else {**attrs, "invented": "no"}
        self.cautions += cautions(named, nitrogen=True, termination=True)
        self.falls_left_out[name] = len(attrs["left_out"])
        before = f"{one.site}: " if self.several else ""
        if self.in_full:
            self.left_out += [f"{before}{text}" for text in attrs["left_out"]]
        about = [*attrs["notes"], *notes(one, self.kinds), *dead_stands(one.grid)]
        self.notes += [(one.site, text) for text in about]
        self.places.append(one if self.in_full else one.without_falls())


def reply_of(
    found: Found, *, weights: str | None, asked: str | None, mapped: bool
) -> tuple[Reply, list[dict[str, Any]]]:
    """Say what was found; with it come the rows of a map.

    Raises
    ------
    InputError
        No place is left.
    """
    from simulator.answers.places import risk as many
    from simulator.answers.risk import data, table, words
    from simulator.commands.shared.answering import gather
    from simulator.show.answer import Reply

    if not found.places:
        raise InputError(list(dict.fromkeys(found.problems)))
    system: System = "us" if (asked or found.units) == "us" else "si"
    places = words.told_apart(found.places)
    rows = many.rows_of(places)
    if found.in_full:
        before = [f"{one.site}: " if len(places) > 1 else "" for one in places]
        sentences = [
            f"{start}{text}"
            for one, start in zip(places, before, strict=True)
            for text in words.sentences(one, system)
        ]
    else:
        sentences = [*many.sentences(rows, places[0].often, system), *many.of_kinds(places)]
        found.left_out += many.falls_left_out(found.falls_left_out)
        found.cautions[:0] = many.invented(found.invented, len(places))
    notes = (
        [*many.together(found.notes), *many.filled(found.filled)]
        if not found.in_full
        else [f"{site}: {text}" if found.several else text for site, text in found.notes]
    )
    if mapped:
        notes += many.off_the_map(rows)
    answer = gather(
        "risk",
        data.dataset(places),
        left_out=found.left_out,
        notes=notes,
        cautions=list(dict.fromkeys(found.cautions)),
        sentences=[*sentences, *found.sentences],
        **found.store,
    )
    answer.inputs.update(data.inputs(places, found.kinds, weights))

    def draw_it() -> Any:
        from simulator.answers.places import chart as places_chart
        from simulator.answers.risk import chart as risk_chart

        return (
            risk_chart.chart(places, system) if found.in_full else places_chart.chart(rows, system)
        )

    def laid() -> tuple[str, list[str]]:
        return table.text(places, system) if found.in_full else many.text(rows, places, system)

    return Reply(
        answer=answer, draw=draw_it, lay_heading=lambda: laid()[0], lay_tables=lambda: laid()[1]
    ), rows


def read_target(text: str) -> float:
    """Read the target [kg/ha].

    Raises
    ------
    InputError
        No unit, or out of range.
    """
    from simulator import units
    from simulator.season.plan import ENDING_RANGE, told_range

    target = units.parse(text, "kg/ha", name=Parameter("target"))
    if not ENDING_RANGE[0] <= target <= ENDING_RANGE[1]:
        raise fault(Parameter("target"), f"'{text}' is out of range.", told_range(ENDING_RANGE))
    return target
