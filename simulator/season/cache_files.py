"""Compiled code on disk that cannot be used: a file left empty, as by a disk that was full."""

from __future__ import annotations

from collections.abc import Callable

from simulator.process.compiled import CACHE

_ENDINGS = ("*.nbi", "*.nbc")


def remove_empty(announce: Callable[[str], None]) -> int:
    """Remove files of the compile cache that are empty, so that what was in them is made again.

    Parameters
    ----------
    announce : callable
        Is told which.

    Returns
    -------
    int
        How many were removed.
    """
    removed = 0
    for path in sorted(found for ending in _ENDINGS for found in CACHE.rglob(ending)):
        try:
            if path.stat().st_size:
                continue
            path.unlink()
        except OSError:
            continue  # another run has removed it, or the folder is closed to us
        announce(f"{path} was empty: it is removed, and compiled again.")
        removed += 1
    return removed
