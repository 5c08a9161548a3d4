"""``fallsown page``: the same questions in a browser, on this machine alone."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from simulator.commands.shared import options
from simulator.problems import InputError, Parameter, Problem, Text, fault

USUAL_PORT = 8471


@click.command("page", short_help="Ask in the browser: sliders, pictures, your own weather.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=USUAL_PORT,
    show_default=True,
    metavar="PORT",
    help="Port to listen on; 0 takes any that is free.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--weather",
    metavar="FILE",
    help="A weather file to show first; it is read again when it changes on disk.",
)
@click.option(
    "--places",
    metavar="FOLDER|STORE|FILE",
    help="Places for the map: a folder of weather files, a table of many stations, netCDF or zarr "
    "of many sites.",
)
@options.with_options(options.ABOUT_FILE)
@options.DEBUG_OPTION
def command(
    *,
    port: int,
    no_browser: bool,
    weather: str | None,
    places: str | None,
    **about: Any,
) -> None:
    """Show one field in the browser: drag a date or a rate and see the season change.

    Other views set two places or plans side by side, follow the season so far, and map many places.

    The page is on this machine alone and asks the network for nothing. What is read there stays
    in memory until it is stopped.
    """
    try:
        from simulator.page import running
        from simulator.page.views.given_file import GivenFile
        from simulator.page.views.place_sets import PlaceSets
    except ImportError as error:
        raise fault(
            "fallsown page",
            f"It needs {error.name}, which is not installed.",
            "Run: python -m pip install 'fallsown[page]'",
        ) from error
    running.listen(port).close()  # before anything that takes time
    _check_described(weather, places, about)
    given = None if weather is None else GivenFile(_file(weather), **about)
    reading_options = {name: about[name] for name in ("latitude", "units_of_file", "date_format")}
    running.warm(options.announce)
    running.serve(
        port,
        browser=not no_browser,
        tell=click.echo,
        debug=options.debugging(click.get_current_context()),
        given=given,
        places=partial(PlaceSets, given=places, **reading_options),
    )


def _check_described(weather: str | None, places: str | None, about: dict[str, Any]) -> None:
    """Refuse options that describe a file where none is named."""
    if weather is None and places is None:
        given = [Parameter(name) for name, value in about.items() if value is not None]
        remedy = Text("Name the file with ", Parameter("weather"), ", or leave it out.")
        if given:
            raise InputError([Problem(one, "It describes a file.", remedy) for one in given])


def _file(weather: str) -> Path:
    path = Path(weather)
    if path.is_file():
        return path
    raise fault(
        Parameter("weather"),
        f"There is no file '{weather}'.",
        "Give the path of a weather file; the samples are on the page without it.",
    )
