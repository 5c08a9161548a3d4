"""Where the weather of several places is: files, folders, stores and samples, in any mixture."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.shared import weather_options
from simulator.commands.shared.measured import as_watered
from simulator.problems import InputError, Parameter, Problem, Text, fault, printable

if TYPE_CHECKING:
    import xarray as xr

    from simulator.weather.places import Place


@dataclass(frozen=True)
class Source:
    """Where one record is.

    Parameters
    ----------
    name : str or None
        As given, for one file or sample; None for the default sample.
    place : Place or None
        Where it is one of a folder or of a file with several; of one file, what it says.
    one_record : bool
        Whether it is one file or sample, read by its name.
    """

    name: str | None
    place: Place | None
    one_record: bool

    @property
    def title(self) -> str:
        """Return the name under which it may be left out."""
        if self.one_record or self.place is None:
            return str(self.name)
        whole_file = self.place.index is None and self.place.station is None
        return Path(self.place.source).name if whole_file else self.place.site


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

    if (record := weather_options.record_given()) is not None:
        return [Source(str(record.attrs["site"]), None, one_record=True)], []
    found: list[Source] = []
    left_out: list[Problem] = []
    wrong: list[Problem] = []
    if twice := sorted({name for name in weather if weather.count(name) > 1}):
        wrong.append(
            Problem(Parameter("weather"), f"{', '.join(twice)} is named twice.", "Name each once.")
        )
    said = {name: about[name] for name in ("latitude", "units_of_file", "date_format")}
    for name in weather or (None,):
        folder = name is not None and Path(name).is_dir()
        try:
            inside, problems = find_places(name or DEFAULT_SAMPLE, check_soil=check_soil, **said)
        except InputError as error:
            if folder:
                wrong += error.problems
            else:
                found.append(Source(name, None, one_record=True))  # told when it is read
            continue
        if not folder and [(p.index, p.station) for p in inside] == [(None, None)]:
            found.append(Source(name, inside[0], one_record=True))
            continue
        if about["site"] is not None:
            site = printable(about["site"])
            inside, problems = tuple(p for p in inside if site in (p.site, p.station)), ()
            if not inside:
                wrong.append(
                    Problem(
                        Parameter("site"),
                        f"'{name}' has no site '{site}' that can be read.",
                        Text("Leave ", Parameter("site"), " out to see which it has."),
                    )
                )
        left_out += problems
        found += [Source(name, place, one_record=False) for place in inside]
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
        raise fault(
            option,
            f"{which} a longitude.",
            "Give it in the files, or in a table stations.csv in their folder with the "
            "columns file, latitude and longitude.",
        )


def records(
    sources: Sequence[Source], about: dict[str, Any]
) -> Iterator[tuple[str, xr.Dataset | InputError]]:
    """Read the records; each comes with the name under which it may be left out."""
    from simulator.weather.places import read_places

    for one in sources:
        if one.one_record:
            is_file = len(sources) == 1 or Path(str(one.name)).is_file()
            said = about if is_file else dict.fromkeys(about)
            try:
                yield one.title, weather_options.load_weather(one.name, **said)
            except InputError as error:
                yield one.title, error
    inside = [one for one in sources if not one.one_record and one.place is not None]
    read = read_places([one.place for one in inside if one.place is not None])
    for one, (_, record) in zip(inside, read, strict=True):
        yield one.title, record if isinstance(record, InputError) else as_watered(record)
