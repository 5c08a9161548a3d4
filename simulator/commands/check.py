"""``fallsown check``: what is wrong with a weather file, and what was understood of it."""

from __future__ import annotations

from typing import Any

import click

from simulator import __version__
from simulator.commands import options


@click.command("check", short_help="Say what is wrong with a weather file, row by row.")
@click.argument("file", metavar="FILE")
@options.with_options(*options.ABOUT_FILE, options.JSON, options.DEBUG_OPTION)
def command(file: str, as_json: bool, **about_file: Any) -> None:
    """Say what was understood of a weather FILE and what is wrong with it, row by row.

    Problems must be mended before the file can be used, and make the exit code 2; doubts only
    deserve a look.
    """
    from simulator.show.check import report_json, report_text
    from simulator.weather.checking import check_weather

    report = check_weather(file, need_latitude=False, **about_file)
    click.echo(report_json(report, __version__) if as_json else report_text(report))
    if report.problems:
        count = len(report.problems)
        click.echo(
            f"{report.file} cannot be used: {count} {'problem' if count == 1 else 'problems'}. "
            f"{report.problems[0]}",
            err=True,
        )
        click.get_current_context().exit(options.INPUT_FAULT)
