"""Places as points in files that map programs read.

References
----------
Butler H et al. (2016) The GeoJSON Format. RFC 7946, IETF: positions are longitude, then latitude,
in decimal degrees of WGS 84, and a null stands for a value that is not there.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from simulator.problems import Parameter
from simulator.show.csv_table import cell
from simulator.show.output import Answer, write_whole

MAP_SUFFIXES = (".geojson", ".json", ".csv")
_DECIMALS = 6  # of a degree, a tenth of a metre
Row = dict[str, Any]


def off_the_map(rows: Sequence[Row]) -> list[str]:
    """Say which places are not on a map for want of a longitude."""
    off = [row["site"] for row in rows if row["longitude"] is None]
    if not off:
        return []
    named = ", ".join(off[:8]) + (" ..." if off[8:] else "")
    count = f"{len(off):,} places have" if off[1:] else "1 place has"
    return [
        f"{count} no longitude and is not on the map: {named}."
        if not off[1:]
        else f"{count} no longitude and are not on the map: {named}."
    ]


def write_map(rows: Sequence[Row], answer: Answer, path: Path) -> None:
    """Write the places as points: GeoJSON, or a table with longitude and latitude.

    Parameters
    ----------
    rows : sequence of dict
        From `rows_of`; those without a longitude are left out.
    answer : Answer
        Says what made it.
    path : Path
        Ends in one of `MAP_SUFFIXES`.

    Raises
    ------
    InputError
        The disk refuses.
    """
    located = [row for row in rows if row["longitude"] is not None and row["latitude"] is not None]
    is_table = path.suffix.lower() == ".csv"
    made = (
        map_table(located)
        if is_table
        else json.dumps(geojson(located, answer), indent=1, ensure_ascii=False, allow_nan=False)
    )
    write_whole(
        path,
        lambda file: file.write_text(made, encoding="utf-8", newline=""),
        option=Parameter("map"),
    )


def geojson(rows: Sequence[Row], answer: Answer) -> dict[str, Any]:
    """Return places as a FeatureCollection of RFC 7946, what made it as foreign members."""
    points = [
        [round(row["longitude"], _DECIMALS), round(row["latitude"], _DECIMALS)] for row in rows
    ]
    return {
        "type": "FeatureCollection",
        "made_by": f"fallsown {answer.version}",
        "command_line": answer.line,
        "features": [
            {
                "type": "Feature",
                "id": row["site"],
                "geometry": {"type": "Point", "coordinates": point},
                "properties": _properties(row),
            }
            for row, point in zip(rows, points, strict=True)
        ],
    }


def _properties(row: Row) -> Row:
    """Return what is known of a place but where it is, numbers to what they are worth."""
    return {
        name: float(f"{value:.6g}") if isinstance(value, float) else value
        for name, value in row.items()
        if name not in ("latitude", "longitude")
    }


def map_table(rows: Sequence[Row]) -> str:
    """Return places as CSV, nothing above the header, so that a map program takes it as it is."""
    out = io.StringIO()
    written = csv.writer(out, lineterminator="\n")
    if rows:
        written.writerow(["longitude", "latitude", *_properties(rows[0])])
    for row in rows:
        written.writerow(
            [
                cell(round(row["longitude"], _DECIMALS)),
                cell(round(row["latitude"], _DECIMALS)),
                *("" if value is None else cell(value) for value in _properties(row).values()),
            ]
        )
    return out.getvalue()
