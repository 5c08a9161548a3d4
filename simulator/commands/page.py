"""``fallsown page``: the same questions in a browser, on this machine alone."""

from __future__ import annotations

import click

from simulator.commands.shared import options

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
@options.DEBUG_OPTION
def command(*, port: int, no_browser: bool) -> None:
    """Show one field in the browser: drag a date or a rate and see the season change.

    The page is on this machine alone and asks the network for nothing. What is read there stays
    in memory until it is stopped.
    """
    from simulator.problems import fault

    try:
        from simulator.page import running
    except ImportError as error:
        raise fault(
            "fallsown page",
            f"It needs {error.name}, which is not installed.",
            "Run: python -m pip install 'fallsown[page]'",
        ) from error
    running.listen(port).close()  # before anything that takes time
    running.warm(options.announce)
    running.serve(
        port,
        browser=not no_browser,
        tell=click.echo,
        debug=options.debugging(click.get_current_context()),
    )
