"""The page of weather files: from the readers' own words and tables."""

from __future__ import annotations

from docs.maker.docstrings import described
from docs.maker.tables import table
from simulator.weather import fall_year, record
from simulator.weather.files import columns, ghcn, netcdf, spreadsheet
from simulator.weather.files.multistation import stations
from simulator.weather.files.quality import control, limits, series
from simulator.weather.files.tables.rows import HEADER


def weather_files_page() -> str:
    """Write what layouts are read, what headers are understood, what is refused."""
    names = [
        [f"`{role}`", ", ".join(f"`{word}`" for word in sorted(words))]
        for role, words in columns._KEYWORDS.items()
    ]
    names.append(["`radiation`", ", ".join(f"`{word}`" for word in sorted(columns._RADIATION))])
    by_unit: dict[str, list[str]] = {}
    for written, unit in columns._ALIASES.items():
        by_unit.setdefault(unit, []).append(f"`{written}`")
    elements = [[f"`{element}`", f"`{name}`"] for element, name in ghcn.ELEMENTS.items()]
    wanted = [[f"`{name}`", how] for name, how in netcdf._WANTED.items()]
    wanted.append(
        [
            "`radiation`",
            "if it is there: standard_name "
            "surface_downwelling_shortwave_flux_in_air, or named radiation or rsds",
        ]
    )
    return "\n\n".join(
        [
            "# Weather files",
            "One row a day: the date, the maximum and the minimum temperature, the rain. The least "
            "that is\nneeded, as a table of text or the first sheet of a spreadsheet:",
            f"```text\n{HEADER}\n2015-10-20,74.1,48.9,0.00\n```",
            "Lines above the header that begin with `#` may say `site`, `latitude`, `longitude` "
            "and "
            "`source`.\nA blank is a missing day; `T` in the rain is a trace.",
            "A column of measured global radiation may stand beside them, its unit in the header: "
            "`radiation (MJ/m2/d)`,\n`radiation (W/m2)` as the mean of the day, `(kWh/m2)`, "
            "`(J/cm2)` "
            "or `(langley)`. On a day without it, radiation\nis estimated.",
            "## Tables and spreadsheets",
            described(spreadsheet),
            "Words that tell a column, whatever common words (`daily`, `air`, `temperature`) stand "
            "beside them:",
            table(["column", "words"], names),
            "Units in a header, in brackets or after the name:",
            table(["unit", "written"], [[unit, ", ".join(w)] for unit, w in by_unit.items()]),
            "## GHCN-Daily",
            described(ghcn),
            table(["element", "column"], elements),
            "## Many stations in one file",
            described(stations),
            "## netCDF",
            described(netcdf),
            table(["column", "how it is found"], wanted),
            "## What is refused, and what is only doubted",
            described(control),
            described(limits),
            described(series),
            "## What is done to a record",
            described(record),
            described(fall_year),
        ]
    )
