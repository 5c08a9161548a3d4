"""The report on a weather file, as people and as programs read it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from simulator.problems import Parameter, Spelling, Text, command_line, spelled
from simulator.show.tables import NOTHING, Column, listed, paragraph, table
from simulator.show.wording import falls

if TYPE_CHECKING:
    from simulator.problems import Problem
    from simulator.weather.files.checking import Report, StationsReport

MOST_STATIONS, MOST_OF_A_STATION, MOST_DOUBTS, MOST_NOTES = 60, 5, 40, 10
LONGEST_NAME = 24
SCREEN, FEW_LEFT_OUT = 6, 3  # doubts and falls left out that fit a screen beside the rest

_NO_LATITUDE = Text(
    "not in the file; say it with ", Parameter("latitude"), " when you run a season"
)


def report_text(report: Report, spelling: Spelling, *, every: bool = False) -> str:
    """Print whether a file can be used, what was understood, then what is wrong, row by row.

    Parameters
    ----------
    report : Report
    spelling : callable
        Spells parameters for who asks.
    every : bool
        Whether every doubt, and every fall left out, is listed, or only as many as fit a screen.
    """
    blocks = [_verdict(report)]
    problems, doubts = _texts(report.problems, spelling), _texts(report.doubts, spelling)
    blocks.append(listed(_count_heading(report.problems, "problem", "to mend"), problems))
    if report.layout:
        blocks.append(_understood(report, spelling))
    if report.usable:
        blocks.append(_left_out(report, spelling, every))
    shown = doubts if every else _first_texts(doubts, SCREEN, spelling)
    blocks.append(listed(_count_heading(report.doubts, "doubt", "to look at"), shown))
    blocks.append(listed("Notes:", report.notes))
    if report.usable and report.filled:
        blocks.append(paragraph(f"A run fills short gaps: {report.filled}."))
    return "\n\n".join(block for block in blocks if block)


def _verdict(report: Report) -> str:
    """Say first of all whether the file can be used, and for which falls."""
    if not report.usable:
        count = f"{len(report.problems)} {'problem' if len(report.problems) == 1 else 'problems'}"
        return f"{report.file} cannot be used: {count}."
    if not report.winters:
        return (
            f"{report.file} can be read, but no winter of it is whole from 1 November to 15 April."
        )
    return paragraph(
        f"{report.file} can be used, from 1 November to 15 April: {falls(report.winters)}."
    )


def _left_out(report: Report, spelling: Spelling, every: bool) -> str:
    """List falls within the record that are left out; those before and after it say nothing."""
    inside = [
        f"{year}: {why}"
        for year, why in report.left_out.items()
        if report.first < f"{year}-11-01" and f"{year + 1}-04-15" <= report.last
    ]
    return listed("Left out:", inside if every else _first_texts(inside, FEW_LEFT_OUT, spelling))


def _first_texts(texts: list[str], most: int, spelling: Spelling) -> list[str]:
    """Return as many as fit a screen, and where the others are."""
    if len(texts) <= most + 1:
        return texts
    return [
        *texts[:most],
        f"and {len(texts) - most:,} more; {spelling(Parameter('all'))} lists them.",
    ]


def _count_heading(problems: list[Problem], word: str, what: str) -> str:
    return f"{len(problems)} {word}{'' if len(problems) == 1 else 's'} {what}:"


def _texts(problems: Iterable[Problem], spelling: Spelling) -> list[str]:
    return [problem.text(spelling) for problem in problems]


def _understood(report: Report, spelling: Spelling) -> str:
    unsaid = spelled(_NO_LATITUDE, spelling)
    latitude = unsaid if report.latitude is None else f"{report.latitude:g} degrees north"
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
    }
    width = max(map(len, lines))
    texts = [paragraph(text, first=f"  {name:<{width}}  ") for name, text in lines.items() if text]
    return "\n".join(["What was understood:", *texts])


def stations_text(report: StationsReport, spelling: Spelling) -> str:
    """Print what was understood of each station, then what stops use and what to look at."""
    blocks = [_stations_understood(report), _stations_table(report, spelling)]
    problems = _texts(report.without_station, spelling)
    for name, one in report.stations.items():
        problems += _first_problem_texts(one.problems, report.file, name, spelling)
    blocks.append(listed(_count_heading(report.problems, "problem", "to mend"), problems))
    doubts = [doubt for one in report.stations.values() for doubt in one.doubts]
    if len(doubts) <= MOST_DOUBTS:
        blocks.append(
            listed(_count_heading(doubts, "doubt", "to look at"), _texts(doubts, spelling))
        )
    else:
        lists = command_line("check", report.file, Parameter("site", "STATION"))
        blocks.append(
            paragraph(
                f"{len(doubts):,} doubts to look at; '{lists}' lists those of a station, "
                f"{spelling(Parameter('json'))} all."
            )
        )
    notes = Counter(note for one in report.stations.values() for note in one.notes)
    of = len(report.stations)
    blocks.append(
        listed(
            "Notes:",
            [
                note if count == of else f"{note} ({count:,} of {of:,} stations)"
                for note, count in notes.most_common(MOST_NOTES)
            ],
        )
    )
    blocks.append(_without_latitude(report, spelling))
    return "\n\n".join(block for block in blocks if block)


def _stations_understood(report: StationsReport) -> str:
    read = [one for one in report.stations.values() if one.layout]
    lines = {
        "read as": _most_common_texts(one.layout for one in read),
        "dates": _most_common_texts(one.date_form for one in read),
        **{
            name: _most_common_texts(one.columns.get(name, "") for one in read)
            for name in ("tmax", "tmin", "rain", "radiation")
        },
    }
    width = max(map(len, lines))
    texts = [paragraph(text, first=f"  {name:<{width}}  ") for name, text in lines.items() if text]
    return "\n".join([f"{report.file}: {len(report.stations):,} stations", *texts])


def _most_common_texts(texts: Iterable[str]) -> str:
    count = Counter(filter(None, texts))
    if len(count) == 1:
        return next(iter(count))
    return "; ".join(f"{text} ({times:,} stations)" for text, times in count.most_common(3))


def _stations_table(report: StationsReport, spelling: Spelling) -> str:
    """Lay out the stations; of very many only those that a run leaves out or finds no winter in."""
    shown = list(report.stations.items())
    if len(shown) > MOST_STATIONS:
        shown = [(name, one) for name, one in shown if one.problems or not one.winters]
    rows = [_cells(name, one) for name, one in shown[:MOST_STATIONS]]
    hidden = len(report.stations) - len(rows)
    columns = [
        Column("station", left=True),
        Column("name", left=True),
        Column("north", "°"),
        Column("from"),
        Column("to"),
        Column("days\nmissing"),
        Column("whole\nwinters"),
        Column("to\nmend"),
        Column("to\nlook at"),
    ]
    if all(one.site == name for name, one in shown):
        columns, rows = [*columns[:1], *columns[2:]], [[*row[:1], *row[2:]] for row in rows]
    blocks = [table(columns, rows)] if rows else []
    if hidden:
        has_all = spelling(Parameter("json"))
        blocks.append(paragraph(f"{hidden:,} stations are not shown here; {has_all} has all."))
    usable = [one for one in report.stations.values() if one.usable and one.winters]
    winters = sum(len(one.winters) for one in usable)
    blocks.append(
        paragraph(
            f"A winter is whole from 1 November to 15 April, short gaps filled: {winters:,} "
            "winters "
            "at "
            f"{len(usable):,} of {len(report.stations):,} stations."
        )
    )
    return "\n\n".join(blocks)


def _cells(station: str, one: Report) -> list[str]:
    return [
        station,
        one.site if len(one.site) <= LONGEST_NAME else one.site[:LONGEST_NAME] + "...",
        NOTHING if one.latitude is None else f"{one.latitude:.2f}",
        one.first[:7] or NOTHING,
        one.last[:7] or NOTHING,
        f"{max(one.missing.values(), default=0):,}",
        f"{len(one.winters)}",
        f"{len(one.problems) or NOTHING}",
        f"{len(one.doubts) or NOTHING}",
    ]


def _first_problem_texts(
    problems: Sequence[Problem], file: str, station: str, spelling: Spelling
) -> list[str]:
    """Return the first few faults of a station, and where the others are told."""
    if len(problems) <= MOST_OF_A_STATION + 1:
        return _texts(problems, spelling)
    lists = command_line("check", file, Parameter("site", f'"{station}"'))
    return [
        *_texts(problems[:MOST_OF_A_STATION], spelling),
        f"{file}, station '{station}': {len(problems) - MOST_OF_A_STATION:,} problems more; "
        f"'{lists}' lists them.",
    ]


def _without_latitude(report: StationsReport, spelling: Spelling) -> str:
    bare = [name for name, one in report.stations.items() if one.layout and one.latitude is None]
    if not bare:
        return ""
    some = ", ".join(bare[:3]) + (" ..." if bare[3:] else "")
    return paragraph(
        f"The file does not say the latitude of {len(bare):,} stations ({some}); say "
        f"it with {spelling(Parameter('latitude'))} when you run them, or put the file into a "
        "folder with a table stations.csv."
    )
