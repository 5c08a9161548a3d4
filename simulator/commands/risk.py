"""``fallsown risk``: how surely plans reach a target, and what they cost in nitrate."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands import options
from simulator.commands.charting import draw
from simulator.commands.sowing import covered_sowings
from simulator.problems import InputError, Problem, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.advice.risk import Risk
    from simulator.units import System
    from simulator.weather.places import Place


@click.command("risk", short_help="How surely is a target reached, by how late a sowing?")
@click.option("--target", default="4000 lb/acre", show_default=True, metavar="MASS",
              help="Biomass to reach, with its unit.")  # fmt: skip
@click.option("--chance", default=80, show_default=True, metavar="PERCENT",
              type=click.IntRange(1, 99), help="Share of falls in which the latest sowing must "
              "still reach it; 80 is four years in five.")  # fmt: skip
@click.option("--weather", multiple=True, metavar="FILE|FOLDER|STORE|SAMPLE",
              help="A weather file, a folder of them, netCDF or zarr of many sites, or a packaged "
              "sample; may be given again.  [default: the sample tallow-bend]")  # fmt: skip
@click.option("--kinds", metavar="HOW|FILE",
              help="Sort falls by 'fall rain', 'fall temperature' or 'fall' (both), in thirds of "
              "the record's own; or by a file: your list (year,kind) or the Oceanic Nino Index."
              )  # fmt: skip
@click.option("--kinds-season", default="OND", show_default=True, metavar="MONTHS",
              help="Season of the Oceanic Nino Index.")  # fmt: skip
@click.option("--weights", metavar="TEXT", help="A forecast of the kind of year, such as "
              "'wet 50, normal 30, dry 20'.  [kinds: fall rain]")  # fmt: skip
@click.option("--chart", metavar="FILE", type=click.Path(path_type=Path),
              help="Draw how often biomass is reached, of many places a map: FILE.svg, .png, .pdf "
              "or .html.")  # fmt: skip
@click.option(
    "--map",
    "map_",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the places as points for a map program: FILE.geojson or .csv.",
)
@click.option(
    "--generate",
    type=click.IntRange(5, 450),
    metavar="YEARS",
    help="Lengthen each record to so many falls by drawing from it.",
)
@click.option("--method", type=click.Choice(["resampled", "fitted"]), default="resampled",
              show_default=True, help="Of --generate: real seasons drawn anew, or days of a "
              "generator fitted to the record.")  # fmt: skip
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Of --generate: the same number gives the same weather.",
)
@click.option("--latest/--no-latest", default=None,
              help="Seek the latest sowing too, which takes most of the time.  [default: for up "
              "to 10 places]")  # fmt: skip
@options.with_options(options.PLANS, options.YEARS, options.ABOUT_FILE, options.FIELD,
                      options.OUTPUT, options.DEBUG_OPTION)  # fmt: skip
def command(
    *, target: str, chance: int, weather: tuple[str, ...], kinds: str | None, kinds_season: str,
    weights: str | None, chart: Path | None, map_: Path | None, generate: int | None,
    method: Any, seed: int, latest: bool | None, sow: tuple[str, ...], seeding: tuple[str, ...],
    nitrogen: tuple[str, ...], nitrogen_timing: tuple[str, ...], end: tuple[str, ...], years: str,
    units: str | None, as_json: bool, out: Path | None, **asked: Any,
) -> None:  # fmt: skip
    """How surely each plan reaches a target, and the latest sowing that still does.

    For one place, several or thousands; over all falls, by kind of year, and for a forecast of the
    kind. Chances have intervals that say how few falls there are. Nitrate lost is held against the
    limit for drinking water. More than ten places are ranked in one table.
    """
    from simulator.advice import risk
    from simulator.commands.answering import check_size
    from simulator.show.charts import SUFFIXES
    from simulator.show.output import check_destination
    from simulator.show.places import MAP_SUFFIXES
    from simulator.show.risk import MOST_IN_FULL
    from simulator.weather.generated import generate_weather
    from simulator.weather.year_types import FALL_RAIN, kinds_of_year, parse_weights

    file = options.load_parameters(asked["parameters"])
    about, field = options.split_field(asked)
    files = ((out, "--out", (".csv", ".nc")), (chart, "--chart", SUFFIXES),
             (map_, "--map", MAP_SUFFIXES))  # fmt: skip

    def check_files(inputs: Sequence[str | None]) -> None:
        for path, option, suffixes in files:
            check_destination(path, inputs=inputs, option=option, suffixes=suffixes,
                              called="one of the files read")  # fmt: skip

    check_files([*weather, kinds])
    wanted = options.parse_years(years)
    plans = options.plans(sow=sow, seeding=seeding, nitrogen=nitrogen,
                          nitrogen_timing=nitrogen_timing, end=end)  # fmt: skip
    if massive := [text for text in plans["end"] if "/" in text]:
        raise fault("--end", f"'{massive[0]}' is a biomass, which the risk is to tell.",
                    "Write a date or a stage.")  # fmt: skip
    if generate is not None and wanted is not None:
        raise fault("--years", "Generated falls are no years of the record.",
                    "Leave --years or --generate out.")  # fmt: skip
    goal = read_target(target)
    how = FALL_RAIN if kinds is None and weights is not None else kinds
    sources, problems = find_sources(weather, about, file.soil_set)
    check_files(list({one.place.source for one in sources if one.place is not None}))
    in_full = len(sources) <= MOST_IN_FULL
    for path, option in ((map_, "--map"), (None if in_full else chart, "--chart")):
        if path is not None:
            check_longitudes(sources, option)

    def risk_of(record: xr.Dataset) -> Risk:
        own = {"soil": file.soil_set(record.attrs["soil"])} if "soil" in record.attrs else {}
        sowings = covered_sowings(record, plans["sow"], plans["end"], wanted)
        recorded = None
        if generate is not None:
            recorded = risk.whole_falls(record, sowings, plans["end"])
            record = generate_weather(record, generate, seed, method)
        check_size(wanted, record, *(len(plans[name]) for name in plans if name != "end"))
        sorted_by = kinds_of_year(record, how, season=kinds_season) if how is not None else None
        forecast = None if weights is None else parse_weights(weights, sorted_by or {})
        return risk.risk_at(
            record, {**plans, "sow": sowings}, {**field, **own}, target=goal, often=chance / 100,
            years=wanted, kinds=sorted_by, weights=forecast, recorded=recorded,
            latest=in_full if latest is None else latest, announce=options.announce,
        )  # fmt: skip

    found = Found(problems=problems, left_out=[str(problem) for problem in problems],
                  several=len(sources) > 1)  # fmt: skip
    with options.progress(len(sources)) as done:
        for name, record in records(sources, about):
            found.add(name, record, risk_of, how, in_full=in_full)
            done(1)
    give_risk(found, how=how, weights=weights, asked=units, chart=chart, map_=map_,
              as_json=as_json, out=out, in_full=in_full)  # fmt: skip


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
    falls_left_out : dict of str to int
        Falls without whole weather, by place.
    invented : int
        Places that do not exist.
    """

    problems: list[Problem]
    left_out: list[str]
    several: bool
    places: list[Risk] = dataclass_field(default_factory=list)
    units: str | None = None
    notes: list[tuple[str, str]] = dataclass_field(default_factory=list)
    cautions: list[str] = dataclass_field(default_factory=list)
    falls_left_out: dict[str, int] = dataclass_field(default_factory=dict)
    invented: int = 0

    def add(
        self, name: str, record: xr.Dataset | InputError, risk_of: Callable[[xr.Dataset], Risk],
        kinds: str | None, *, in_full: bool,
    ) -> None:  # fmt: skip
        """Work out a place; where that fails, name it among the left out."""
        from simulator.advice.cautions import cautions, dead_stands
        from simulator.show.risk import notes

        try:
            if isinstance(record, InputError):
                raise record
            one = risk_of(record)
        except InputError as error:
            self.problems += error.problems
            first, more = str(error.problems[0]), len(error.problems) - 1
            told = first if first.startswith(name) else f"{name}: {first}"
            self.left_out.append(f"{told} ({more:,} more faults.)" if more else told)
            return
        self.units = self.units or options.shown_units(None, record)
        self.invented += one.grid.attrs.get("invented") == "yes"
        named = one.grid.attrs if in_full else {**one.grid.attrs, "invented": "no"}
        self.cautions += cautions(named, nitrogen=True, termination=True)
        self.falls_left_out[name] = len(one.grid.attrs["left_out"])
        about = [*one.grid.attrs["notes"], *notes(one, kinds), *dead_stands(one.grid)]
        before = f"{one.site}: " if self.several else ""
        if in_full:
            self.left_out += [f"{before}{text}" for text in one.grid.attrs["left_out"]]
        self.notes += [(one.site, text) for text in about]
        self.places.append(one if in_full else one.without_falls())


def give_risk(
    found: Found, *, how: str | None, weights: str | None, asked: str | None, chart: Path | None,
    map_: Path | None, as_json: bool, out: Path | None, in_full: bool,
) -> None:  # fmt: skip
    """Say what was found, and write the files wanted.

    Raises
    ------
    InputError
        No place is left, or a file cannot be written.
    """
    from simulator.commands.answering import gather, give
    from simulator.show import places as many
    from simulator.show import risk as show
    from simulator.show.answer import answer_text

    if not found.places:
        raise InputError(list(dict.fromkeys(found.problems)))
    system: System = "us" if (asked or found.units) == "us" else "si"
    places = show.told_apart(found.places)
    rows = many.rows_of(places)
    if in_full:
        before = [f"{one.site}: " if len(places) > 1 else "" for one in places]
        sentences = [f"{start}{text}" for one, start in zip(places, before, strict=True)
                     for text in show.sentences(one, system)]  # fmt: skip
    else:
        sentences = many.sentences(rows, places[0].often, system)
        found.left_out += many.falls_left_out(found.falls_left_out)
        found.cautions[:0] = many.invented(found.invented, len(places))
    notes = many.together(found.notes) if not in_full else [
        f"{site}: {text}" if found.several else text for site, text in found.notes]  # fmt: skip
    if map_ is not None:
        notes += many.off_the_map(rows)
    answer = gather(
        "risk", show.dataset(places), left_out=found.left_out, notes=notes,
        cautions=list(dict.fromkeys(found.cautions)), sentences=sentences,
    )  # fmt: skip
    answer.inputs.update(show.inputs(places, how, weights))
    if chart is not None:
        from simulator.show import places_chart, risk_chart

        draw(risk_chart.chart(places, system) if in_full else places_chart.chart(rows, system),
             chart)  # fmt: skip
    if map_ is not None:
        many.write_map(rows, answer, map_)
        options.announce(f"Mapped: {map_}.")
    if as_json:
        text = ""
    elif in_full:
        text = answer_text(answer, *show.text(places, system))
    else:
        text = answer_text(many.shortened(answer), *many.text(rows, places, system))
    give(answer, text, as_json=as_json, out=out)


@dataclass(frozen=True)
class Source:
    """Where one record is.

    Parameters
    ----------
    name : str or None
        As given, for one file or sample; None for the default sample.
    place : Place or None
        Where it is one of a folder or of a file with several; of one file, what it says.
    alone : bool
        Whether it is read by its name.
    """

    name: str | None
    place: Place | None
    alone: bool


def find_sources(
    weather: Sequence[str], about: dict[str, Any], check_soil: Callable[[str], object]
) -> tuple[list[Source], list[Problem]]:
    """List where the weather is: folders and files of several sites opened.

    Parameters
    ----------
    weather : sequence of str
        As given; the default sample where there is none.
    about : dict
        Options that describe files.
    check_soil : callable
        Raises InputError for a soil that is not known.

    Returns
    -------
    list of Source
    list of Problem
        Why places of folders and of files of several sites are left out.

    Raises
    ------
    InputError
        A folder that cannot be used, or a source named twice.
    """
    from simulator.weather.places import find_places
    from simulator.weather.samples import DEFAULT_SAMPLE

    found: list[Source] = []
    left_out: list[Problem] = []
    wrong: list[Problem] = []
    if twice := sorted({name for name in weather if weather.count(name) > 1}):
        wrong.append(Problem("--weather", f"{', '.join(twice)} is named twice.", "Name each once."))
    said = {name: about[name] for name in ("latitude", "units_of_file", "date_format")}
    for name in weather or (None,):
        folder = name is not None and Path(name).is_dir()
        try:
            inside, problems = find_places(name or DEFAULT_SAMPLE, check_soil=check_soil, **said)
        except InputError as error:
            if folder:
                wrong += error.problems
            else:
                found.append(Source(name, None, alone=True))  # told when it is read
            continue
        if not folder and [place.index for place in inside] == [None]:
            found.append(Source(name, inside[0], alone=True))
            continue
        if (site := about["site"]) is not None:
            inside, problems = tuple(place for place in inside if place.site == site), ()
            if not inside:
                wrong.append(Problem("--site", f"'{name}' has no site '{site}' that can be read.",
                                     "Leave --site out to see which it has."))  # fmt: skip
        left_out += problems
        found += [Source(name, place, alone=False) for place in inside]
    if wrong or not found:
        raise InputError([*wrong, *left_out])
    return found, left_out


def check_longitudes(sources: Sequence[Source], option: str) -> None:
    """Refuse a map where no place has a longitude.

    Raises
    ------
    InputError
        None is known.
    """
    if not any(one.place is not None and one.place.longitude is not None for one in sources):
        which = "The place has" if len(sources) == 1 else f"None of {len(sources):,} places has"
        raise fault(option, f"{which} a longitude.",
                    "Give it in the files, or in a table stations.csv in their folder with the "
                    "columns file, latitude and longitude.")  # fmt: skip


def records(
    sources: Sequence[Source], about: dict[str, Any]
) -> Iterator[tuple[str, xr.Dataset | InputError]]:
    """Read the records; each comes with the name under which it may be left out."""
    from simulator.weather.places import read_places

    for name in [one.name for one in sources if one.alone]:
        is_file = len(sources) == 1 or Path(str(name)).is_file()
        said = about if is_file else dict.fromkeys(about)
        try:
            yield str(name), options.load_weather(name, **said)
        except InputError as error:
            yield str(name), error
    for place, record in read_places([one.place for one in sources if not one.alone and one.place]):
        yield Path(place.source).name if place.index is None else place.site, record


def read_target(text: str) -> float:
    """Read the target [kg/ha].

    Raises
    ------
    InputError
        No unit, or out of range.
    """
    from simulator import units
    from simulator.season.plan import ENDING_RANGE, told_range

    target = units.parse(text, "kg/ha", name="--target")
    if not ENDING_RANGE[0] <= target <= ENDING_RANGE[1]:
        raise fault("--target", f"'{text}' is out of range.", told_range(ENDING_RANGE))
    return target
