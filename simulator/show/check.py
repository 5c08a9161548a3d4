"""The report on a weather file, as people and as programs read it."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING

from simulator.advice.wording import falls
from simulator.show.tables import listed, paragraph

if TYPE_CHECKING:
    from simulator.problems import Problem
    from simulator.weather.checking import Report

_NO_LATITUDE = "not in the file; say it with --latitude when you run a season"


def report_text(report: Report) -> str:
    """Print what was understood, then problems, doubts and notes, each with its row."""
    blocks = [_understood(report) if report.layout else f"{report.file}: not understood."]
    blocks.append(listed(_counted(report.problems, "problem", "to mend"), _texts(report.problems)))
    blocks.append(listed(_counted(report.doubts, "doubt", "to look at"), _texts(report.doubts)))
    blocks.append(listed("Notes:", report.notes))
    if report.usable:
        blocks.append(_usable(report))
    return "\n\n".join(block for block in blocks if block)


def _counted(problems: list[Problem], word: str, what: str) -> str:
    return f"{len(problems)} {word}{'' if len(problems) == 1 else 's'} {what}:"


def _texts(problems: list[Problem]) -> list[str]:
    return [str(problem) for problem in problems]


def _understood(report: Report) -> str:
    latitude = _NO_LATITUDE if report.latitude is None else f"{report.latitude:g} degrees north"
    lines = {
        "read as": report.layout,
        "place": report.site,
        "latitude": latitude,
        "dates": f"{report.date_form}; {report.first} to {report.last}, {report.days:,} days",
        **report.columns,
        "missing": ", ".join(
            f"{count} {'day' if count == 1 else 'days'} of {name}"
            for name, count in report.missing.items()
        ),
    }  # fmt: skip
    width = max(map(len, lines))
    told = [paragraph(text, first=f"  {name:<{width}}  ") for name, text in lines.items() if text]
    return "\n".join([f"{report.file}: understood", *told])


def _usable(report: Report) -> str:
    """Say which winters the file serves."""
    told = []
    if report.winters:
        told.append(paragraph(f"Usable from 1 November to 15 April: {falls(report.winters)}."))
    else:
        told.append("No winter of this file is whole from 1 November to 15 April.")
    if report.left_out:
        told.append(
            listed("Left out:", [f"{year}: {why}" for year, why in report.left_out.items()])
        )
    if report.filled:
        told.append(paragraph(f"A run fills short gaps: {report.filled}."))
    return "\n\n".join(told)


def report_json(report: Report, version: str) -> str:
    """Return the report as one JSON object; each problem and doubt is a row."""
    rows = [
        {"kind": kind, "where": p.where, "what": p.what, "remedy": p.remedy}
        for kind, problems in (("problem", report.problems), ("doubt", report.doubts))
        for p in problems
    ]
    apart = ("problems", "doubts", "notes", "left_out")
    understood = {
        field.name: getattr(report, field.name)
        for field in dataclasses.fields(report)
        if field.name not in apart
    }
    return json.dumps(
        {
            "command": "check",
            "version": version,
            "inputs": {"file": report.file},
            "units": {},
            "cautions": [],
            "usable": report.usable,
            "understood": understood,
            "rows": rows,
            "left_out": [f"{year}: {why}" for year, why in report.left_out.items()],
            "notes": report.notes,
        },
        indent=1,
        allow_nan=False,
    )
