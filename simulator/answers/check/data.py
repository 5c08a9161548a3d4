"""What a weather file was found to hold, for JSON."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simulator.problems import Problem, Spelling
    from simulator.weather.files.checking import Report, StationsReport


def report_json(report: Report, version: str, spelling: Spelling) -> str:
    """Return the report as one JSON object; each problem and doubt is a row."""
    return _json(
        version,
        report.file,
        report.usable,
        {
            "understood": _fields(report),
            "rows": _rows(report, spelling),
            "left_out": [f"{year}: {why}" for year, why in report.left_out.items()],
            "notes": report.notes,
        },
    )


def _fields(report: Report) -> dict[str, Any]:
    apart = ("problems", "doubts", "notes", "left_out")
    return {
        field.name: getattr(report, field.name)
        for field in dataclasses.fields(report)
        if field.name not in apart
    }


def _rows(report: Report, spelling: Spelling) -> list[dict[str, Any]]:
    return [
        _row(kind, problem, spelling)
        for kind, problems in (("problem", report.problems), ("doubt", report.doubts))
        for problem in problems
    ]


def _row(kind: str, problem: Problem, spelling: Spelling) -> dict[str, Any]:
    return {"kind": kind, **dataclasses.asdict(problem.spelled(spelling))}


def _json(version: str, file: str, usable: bool, found: dict[str, Any]) -> str:
    about = {
        "command": "check",
        "version": version,
        "inputs": {"file": file},
        "units": {},
        "cautions": [],
        "usable": usable,
    }
    return json.dumps(about | found, indent=1, allow_nan=False)


def stations_json(report: StationsReport, version: str, spelling: Spelling) -> str:
    """Return the report on a table of many stations as one JSON object.

    ``stations`` has what was understood of each; each problem and doubt is a row, with its
    station, empty for a row of the file that belongs to none.
    """
    stations = [
        {
            "station": name,
            "usable": one.usable,
            **_fields(one),
            "notes": one.notes,
            "left_out": [f"{year}: {why}" for year, why in one.left_out.items()],
        }
        for name, one in report.stations.items()
    ]
    rows = [
        {"station": "", **_row("problem", problem, spelling)} for problem in report.without_station
    ]
    rows += [
        {"station": name, **row}
        for name, one in report.stations.items()
        for row in _rows(one, spelling)
    ]
    return _json(version, report.file, not report.problems, {"stations": stations, "rows": rows})
