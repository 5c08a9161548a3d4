"""Honest files of every kind that is read, small, as bytes: what mutations begin with."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
import openpyxl
import xarray as xr

from simulator.parameters.prices import default_text
from simulator.weather.samples import samples_folder

Files = dict[str, bytes]  # path inside a folder -> content
DAYS = np.datetime64("2005-10-01") + np.arange(45)
HEADER = "date,tmax (degC),tmin (degC),rain (mm)"


def _values(day: int) -> tuple[float, float, float]:
    return 20.5 + day % 7, 8.0 + day % 5, (day % 3) * 1.5


def table(between: str = ",", about: str = "# site: Lowdale\n# latitude: 33\n") -> str:
    rows = [
        between.join([str(date), *(f"{value:g}" for value in _values(i))])
        for i, date in enumerate(DAYS)
    ]
    return about + "\n".join([HEADER.replace(",", between), *rows]) + "\n"


def us_table() -> str:
    rows = [
        f"{str(d)[5:7]}/{str(d)[8:]}/{str(d)[:4]},{70 + i % 7},{45 + i % 5},{i % 3 / 10:.2f}"
        for i, d in enumerate(DAYS)
    ]
    return "\n".join(["date,tmax (degF),tmin (degF),rain (inch)", *rows]) + "\n"


def many_stations() -> str:
    rows = [
        f"{name},{lat},-85.4,sandy loam,{line}"
        for name, lat in (("Low", 33), ("High", 34))
        for line in table(about="").splitlines()[1:]
    ]
    return "\n".join([f"station,latitude,longitude,soil,{HEADER}", *rows]) + "\n"


def fixed() -> str:
    lines = []
    for element, value in (("TMAX", 200), ("TMIN", 80), ("PRCP", 10)):
        for month, count in ((10, 31), (11, 30)):
            cells = "".join(f"{value + day:5d}  S" for day in range(count))
            lines.append(f"ZZ0000000012005{month}{element}{cells}")
    return "\n".join(lines) + "\n"


def rows_of_elements() -> str:
    return "".join(
        f"ZZ000000001,{str(d).replace('-', '')},{name},{value + i % 9},,,S,\n"
        for i, d in enumerate(DAYS)
        for name, value in (("TMAX", 200), ("TMIN", 80), ("PRCP", 10))
    )


def ghcn_table() -> str:
    rows = [
        f'ZZ000000001,LOWDALE,33.0,-85.4,{d},{i % 9},",,S",{215 + i % 9},{85 + i % 9}'
        for i, d in enumerate(DAYS)
    ]
    head = "STATION,NAME,LATITUDE,LONGITUDE,DATE,PRCP,PRCP_ATTRIBUTES,TMAX,TMIN"
    return "\n".join([head, *rows]) + "\n"


def sheet(rows: list[list[object]]) -> bytes:
    book, made = openpyxl.Workbook(), BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(made)
    return made.getvalue()


def weather_sheet() -> bytes:
    rows = [[date, *_values(i)] for i, date in enumerate(DAYS.tolist())]
    return sheet([["latitude", 33], HEADER.split(","), *rows])


def stations_sheet() -> bytes:
    rows = [
        [name, 33.0, date, *_values(i)]
        for name in ("Low", "High")
        for i, date in enumerate(DAYS.tolist())
    ]
    return sheet([["station", "latitude", *HEADER.split(",")], *rows])


def dataset(sites: int = 0) -> xr.Dataset:
    numbers = np.array([_values(i) for i in range(DAYS.size)]).T
    units = dict(zip(("tmax", "tmin", "rain"), ("degC", "degC", "mm"), strict=True))
    one = xr.Dataset(
        {
            name: ("time", values, {"units": units[name]})
            for name, values in zip(units, numbers, strict=True)
        },
        {"time": DAYS.astype("datetime64[ns]")},
        {"site": "Lowdale", "source": "a seed"},
    )
    if not sites:
        return one.assign_attrs(latitude=33.0, longitude=-85.4)
    return xr.concat([one] * sites, dim="site").assign_coords(
        site=[f"s{i}" for i in range(sites)],
        latitude=("site", 33.0 + np.arange(sites)),
        longitude=("site", -85.0 + np.arange(sites)),
        soil=("site", ["sandy loam"] * sites),
    )


def netcdf(data: xr.Dataset, form: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "w.nc"
        data.to_netcdf(path, format=form)  # type: ignore[call-overload]
        return path.read_bytes()


def zarr() -> Files:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "w.zarr"
        dataset(3).drop_vars(["site", "soil"]).to_zarr(path, zarr_format=2)
        return {
            f"w.zarr/{file.relative_to(path)}": file.read_bytes()
            for file in sorted(path.rglob("*"))
            if file.is_file()
        }


PLOTS = (
    "site,latitude,longitude,sown,sampled,biomass (lb/acre),seeding (lb/acre),"
    "nitrogen_spring (lb/acre),cereal,soil,plots,c_n\n"
    "Low,33,-85.4,2005-10-20,2006-04-15,4000,90,30,rye,sandy loam,4,25\n"
    "Low,33,-85.4,2005-11-20,2006-04-15,3000,90,0,wheat,sandy loam,4,\n"
    "High,34,,2006-10-20,2007-04-15,3500,60,60,rye,loam,,18\n"
)
PARAMETERS = (
    '[cereal.rye]\ngrowth_best = 18.0\n[soil."sandy loam"]\n[site.Low]\n'
    'soil = "loam"\n[provenance]\nby = "a seed"\nwhen = "2026-11-30"\n'
)
FIELD = (
    'name = "Low"\nweather = "tallow-bend"\nsoil = "loam"\norganic_matter = 1.5\n'
    'sow = ["10-20", "Nov 5"]\nseeding = "90 lb/acre"\nnitrogen = "0,30 lb/acre"\n'
    'nitrogen_timing = "sowing 1/3 + 02-15 2/3"\nend = "Apr 15"\nsoil_nitrate = "60 lb/acre"\n'
)
KINDS = "# mine\nyear,kind\n2005,wet\n2006,dry\n2007,normal\n"
ONI = "SEAS  YR  TOTAL ANOM\n" + "".join(
    f" {season} {year} 26.{i}  {0.3 * i - 0.9:5.2f}\n"
    for year in (2005, 2006)
    for i, season in enumerate(("ASO", "SON", "OND", "NDJ"))
)
STATIONS = "file,latitude,longitude,soil,site\nw.csv,33,-85.4,loam,Lowdale\nz.dly,34,274,clay,\n"


def _text(name: str, text: str) -> Callable[[], Files]:
    return lambda: {name: text.encode()}


SEEDS: dict[str, list[Callable[[], Files]]] = {
    "table": [
        _text("w.csv", table()),
        _text("w.csv", table(";").replace(".", ",")),
        _text("w.tsv", table("\t")),
        _text("w.csv", us_table()),
    ],
    "ghcn": [
        _text("w.dly", fixed()),
        _text("w.csv", rows_of_elements()),
        _text("w.csv", ghcn_table()),
    ],
    "stations": [
        _text("w.csv", many_stations()),
        lambda: {"w.xlsx": stations_sheet()},
        _text("w.csv", rows_of_elements() + rows_of_elements().replace("1,2", "2,2")),
    ],
    "spreadsheet": [lambda: {"w.xlsx": weather_sheet()}],
    "netcdf": [
        lambda: {"w.nc": netcdf(dataset(), "NETCDF4")},
        lambda: {"w.nc": netcdf(dataset(), "NETCDF3_CLASSIC")},
    ],
    "many sites": [
        lambda: {"w.nc": netcdf(dataset(3), "NETCDF4")},
        lambda: {"w.nc": netcdf(dataset(3), "NETCDF3_64BIT")},
        zarr,
    ],
    "folder": [
        lambda: {
            "w.csv": table().encode(),
            "z.dly": fixed().encode(),
            "stations.csv": STATIONS.encode(),
        }
    ],
    "plots": [
        _text("p.csv", PLOTS),
        lambda: {"p.xlsx": sheet([row.split(",") for row in PLOTS.splitlines()])},
    ],
    "parameters": [_text("p.toml", PARAMETERS)],
    "prices": [_text("p.toml", default_text())],
    "field": [_text("f.toml", FIELD)],
    "climatology": [lambda: {"c.toml": (samples_folder() / "tallow-bend.toml").read_bytes()}],
    "kinds": [_text("k.csv", KINDS), _text("o.txt", ONI)],
}
