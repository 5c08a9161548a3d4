"""How far a long run is: a bar on a terminal or in a notebook, and nothing elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_FORM = "{l_bar}{bar}| {elapsed}, {remaining} to go"


def in_notebook() -> bool:
    """Say whether a notebook's kernel runs this; IPython is not imported to find out."""
    interactive = sys.modules.get("IPython")
    shell = interactive.get_ipython() if interactive is not None else None
    return type(shell).__name__ == "ZMQInteractiveShell"


@contextmanager
def progress(total: int) -> Iterator[Callable[..., object]]:
    """Show how far a long run is.

    Parameters
    ----------
    total : int
        Steps of the whole run.

    Yields
    ------
    callable
        To be called with the number of steps done since the last call.

    Examples
    --------
    >>> with progress(3) as tick:
    ...     for _ in range(3):
    ...         _ = tick(1)
    """
    from tqdm import tqdm

    # in a notebook too a bar of letters: one of widgets needs more than every notebook has; there
    # it stays, since it could be taken away only to leave an empty line
    notebook = in_notebook()
    with tqdm(
        total=total,
        disable=False if notebook else None,
        leave=notebook,
        file=sys.stderr,
        bar_format=_FORM,
    ) as bar:
        yield bar.update
