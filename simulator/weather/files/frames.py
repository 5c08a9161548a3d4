"""Weather in from a table in memory: a pandas DataFrame, laid out as a weather file is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from numbers import Real
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.problems import InputError, Parameter, Problem, fault, printable, spelled
from simulator.weather.files.columns import KIND, recognise
from simulator.weather.files.daily import Daily
from simulator.weather.files.reading import settle, to_record, with_doubts
from simulator.weather.files.tables.reading import read_table
from simulator.weather.files.tables.rows import HEADER, Rows
from simulator.weather.record import DAILY, NO_ZONE

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

FRAME = "frame"
_CELLS = {type(None), str, float}
_FAR = 2**63  # of a whole number: what is beyond is read as text is
_HEADER = -1  # the header's number, the rows being counted from 0 as pandas does
# what the readers of files say, and how it is said of a table
_IN_PYTHON = {
    rf"{FRAME}, row {_HEADER}": f"{FRAME}, the header",
    r", variable '": ", column '",
    r"The file says": "The table says",
}


def record_from_frame(
    frame: pd.DataFrame,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    site: str | None = None,
    units: Literal["us", "si"] | None = None,
    date_format: str | None = None,
    need_latitude: bool = True,
) -> xr.Dataset:
    """Make a record of a table in memory.

    Parameters
    ----------
    frame : DataFrame
        A row a day, in order: a column ``date``, or an index of dates; tmax, tmin and rain under
        the headers that a file may have, with their units, as in ``tmax (degF)``, ``rain (inch)``;
        radiation if it is measured. It is not altered.
    latitude : float, optional
        [degrees north], 0 to 66; needed where the table has no such column.
    longitude : float, optional
        [degrees east].
    site : str, optional
        Name of the place.
    units : "us" or "si", optional
        degF and inch, or degC and mm, for columns whose header has no unit.
    date_format : str, optional
        Of dates that are text and do not begin with the year: ``"DD/MM/YYYY"``.
    need_latitude : bool
        Whether a missing latitude is an error; without it the record has NaN.

    Returns
    -------
    Dataset
        As `read_weather` gives it. A day without a row, and a cell that is NaN or None, is a
        missing day: NaN, and nothing is filled.

    Raises
    ------
    InputError
        With every fault found, each with its day or its row (counted from 0).

    Warns
    -----
    WeatherDoubt
        What is doubtful about the weather, which is used all the same.

    Examples
    --------
    >>> import pandas as pd
    >>> frame = pd.DataFrame(
    ...     {"tmax (degF)": [68.0, 59.0], "tmin (degF)": [50.0, 41.0], "rain (inch)": [0.0, 1.0]},
    ...     index=pd.to_datetime(["2015-11-01", "2015-11-02"]),
    ... )
    >>> record = record_from_frame(frame, latitude=31.3)
    >>> record["tmax"].values.tolist(), record["rain"].values.tolist()
    ([20.0, 15.0], [0.0, 25.4])
    """
    import pandas as pd

    if not isinstance(frame, pd.DataFrame):
        raise fault(
            FRAME,
            f"A {type(frame).__name__} is not a pandas.DataFrame.",
            "Give a table with a row a day; read_weather reads files.",
        )
    if units is not None and (not isinstance(units, str) or units not in ("us", "si")):
        raise fault("units", f"{_shown(units)} is not known.", "Write us or si.")
    _check_options(latitude=latitude, longitude=longitude, site=site, date_format=date_format)
    header, columns = _columns(frame)
    rows = [header, *map(list, zip(*columns, strict=True))]
    numbers = list(range(_HEADER, len(rows) - 1))
    try:
        daily = read_table(
            Rows(FRAME, "table in memory", "row", numbers, rows, False, []),
            units_of_file=units,
            date_format=date_format,
        )
        _refuse_parts_of_days(daily, header, columns)
    except InputError as error:
        raise InputError(_in_python(error.problems)) from error
    if not np.isnat(daily.dates).any() and np.unique(daily.dates).size == daily.dates.size:
        daily.rows = None  # so that each fault is named by its day
    name = site or str(daily.about.get("site", "")).strip() or "this site"
    read = settle(daily, name, latitude=latitude, longitude=longitude, need_latitude=need_latitude)
    if daily.problems:
        raise InputError(_in_python(daily.problems))
    record = to_record(read).assign_attrs(source="table in memory")
    return with_doubts(record, FRAME, _in_python(daily.doubts))


def _check_options(**given: Any) -> None:
    """Refuse options of another kind than they are to be.

    Raises
    ------
    InputError
    """
    for name in ("latitude", "longitude"):
        value = given[name]
        if isinstance(value, int) and abs(value) > _FAR:
            raise fault(name, f"{_shown(value)} is not on earth.", f"Write {name}=31.3.")
    for name, such in (("site", "site='Lowdale'"), ("date_format", "date_format='DD/MM/YYYY'")):
        value = given[name]
        if value is not None and not isinstance(value, str):
            raise fault(name, f"{_shown(value)} is not text.", f"Write {such}.")


def _shown(value: Any) -> str:
    return printable(repr(value)[:80])


def _plain(cells: list[Any]) -> list[Any]:
    """Return cells with texts in place of what no cell of a file can be, to be refused as such."""
    if {type(cell) for cell in cells} <= _CELLS:
        return cells
    return [
        cell
        if cell is None
        or isinstance(cell, str | float | date)
        or (isinstance(cell, Real) and not (isinstance(cell, int) and abs(cell) >= _FAR))
        else _shown(cell).strip("'")
        for cell in cells
    ]


def _columns(frame: pd.DataFrame) -> tuple[list[str], list[list[Any]]]:
    """Split a table into its header and its cells, column by column, the date first.

    Raises
    ------
    InputError
        Columns of several levels, no dates, no weather, no rows, times with a time zone, several
        stations.
    """
    if frame.columns.nlevels > 1:
        raise fault(
            FRAME,
            "Its columns have several levels.",
            "Give one header a column, such as 'tmax (degF)'.",
        )
    header = [str(name) for name in frame.columns]
    found = [frame.iloc[:, at] for at in range(len(header))]
    roles = [recognise(name)[0] for name in header]
    if "date" not in roles and (index := _index_of_dates(frame)) is not None:
        header, found, roles = ["date", *header], [index, *found], ["date", *roles]
    if not {"date", "day", "year"} & set(roles):
        raise fault(
            FRAME,
            "Neither its index nor a column holds dates.",
            "Name a column 'date', or make the dates its index.",
        )
    if not KIND.keys() & set(roles):
        raise fault(
            FRAME, "None of its columns is tmax, tmin or rain.", f"Name them such as '{HEADER}'."
        )
    if not len(frame):
        raise fault(FRAME, "It has no rows.", "Give a row a day.")
    columns = []
    for name, role, values in zip(header, roles, found, strict=True):
        cells = values.astype(object).where(values.notna(), None).tolist()
        if role in ("date", "day") and any(
            getattr(cell, "tzinfo", None) is not None for cell in cells
        ):
            raise fault(f"{FRAME}, '{name}'", "Its times have a time zone.", NO_ZONE)
        if role == "site" and len(sites := values.dropna().astype(str).unique()) > 1:
            raise fault(
                f"{FRAME}, column '{name}'",
                f"It holds {len(sites)} stations.",
                f"Give the rows of one, as frame[frame['{name}'] == {sites[0]!r}] does.",
            )
        columns.append(_plain(cells))
    return header, columns


def _index_of_dates(frame: pd.DataFrame) -> pd.Series[Any] | None:
    """Return the index as a column where it holds dates."""
    import pandas as pd

    index = frame.index
    if isinstance(index, pd.PeriodIndex):
        index = index.to_timestamp()
    named = recognise(str(index.name))[0] == "date" and index.nlevels == 1
    return index.to_series() if named or isinstance(index, pd.DatetimeIndex) else None


def _refuse_parts_of_days(daily: Daily, header: list[str], columns: list[list[Any]]) -> None:
    """Refuse hourly values, which would otherwise be named day by day as days that stand twice."""
    dated = daily.dates[~np.isnat(daily.dates)]
    days = np.unique(dated).size
    if days == dated.size:
        return
    for name, cells in zip(header, columns, strict=True):
        if recognise(name)[0] == "date" and len(set(filter(None, cells))) > days:
            first = dated[1:][np.diff(dated).astype(int) == 0]
            day = f" on {first[0]}" if first.size else ""
            raise fault(f"{FRAME}, '{name}'", f"It has more than one time a day{day}.", DAILY)


def _as_argument(parameter: Parameter) -> str:
    """Spell a parameter of the readers of files as it is written in a call."""
    name = "units" if parameter.name == "units_of_file" else parameter.name
    if not parameter.value:
        return name
    if parameter.name in ("latitude", "longitude"):
        return f"{name}={parameter.value}"
    if parameter.name in ("units_of_file", "date_format"):
        return f"{name}='{parameter.value}'"
    return str(parameter)


def _in_python(problems: Sequence[Problem]) -> list[Problem]:
    """Say of a table in memory what readers say of a file."""

    def plain(text: str) -> str:
        text = spelled(text, _as_argument)
        for said, meant in _IN_PYTHON.items():
            text = re.sub(said, meant, text)
        return text

    return [
        replace(one, where=plain(one.where), what=plain(one.what), remedy=plain(one.remedy))
        for one in problems
    ]
