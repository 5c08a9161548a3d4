"""``fallsown check``: what is wrong with a weather file, and what was understood of it."""

from __future__ import annotations

from typing import Any

import click

from simulator import __version__
from simulator.commands.shared import options
from simulator.problems import as_option


@click.command("check", short_help="Say what is wrong with a weather file, row by row.")
@click.argument("file", metavar="FILE")
@click.option("--all", "every", is_flag=True, help="List every doubt and every fall left out.")
@options.with_options(*options.ABOUT_FILE, options.JSON, options.DEBUG_OPTION)
def command(file: str, as_json: bool, every: bool, **about_file: Any) -> None:
    """Say whether a weather FILE can be used, what was understood, and what is wrong, row by row.

    Problems must be mended before the file can be used, and make the exit code 2; doubts only
    deserve a look. A table of many stations is told of station by station: one that has a problem
    is left out of a run, and the others go on.
    """
    from simulator.answers.check.data import report_json
    from simulator.answers.check.words import report_text
    from simulator.weather.files.checking import check_weather

    if about_file["site"] is None and _check_stations(file, as_json, about_file):
        return
    report = check_weather(file, need_latitude=False, **about_file)
    click.echo(
        report_json(report, __version__, as_option)
        if as_json
        else report_text(report, as_option, every=every)
    )
    if report.problems:
        count = len(report.problems)
        click.echo(
            f"{report.file} cannot be used: {count} {'problem' if count == 1 else 'problems'}. "
            f"{report.problems[0].text(as_option)}",
            err=True,
        )
        click.get_current_context().exit(options.INPUT_FAULT)


def _check_stations(file: str, as_json: bool, about_file: dict[str, Any]) -> bool:
    """Tell of a table of many stations; False where the file is something else."""
    from simulator.answers.check.data import stations_json
    from simulator.answers.check.words import stations_text
    from simulator.parameters.soils import soil
    from simulator.weather.files.checking import check_stations

    about = {name: value for name, value in about_file.items() if name != "site"}
    report = check_stations(file, need_latitude=False, check_soil=soil, **about)
    if report is None:
        return False
    click.echo(
        stations_json(report, __version__, as_option)
        if as_json
        else stations_text(report, as_option)
    )
    if report.problems:
        left_out = sum(not one.usable for one in report.stations.values())
        text = (
            f"{left_out:,} of {len(report.stations):,} stations cannot be used; a run leaves "
            "out what fails."
            if left_out
            else "Some rows belong to no station."
        )
        click.echo(f"{report.file}: {text} {report.problems[0].text(as_option)}", err=True)
        click.get_current_context().exit(options.INPUT_FAULT)
    return True
