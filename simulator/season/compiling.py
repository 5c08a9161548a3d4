"""Say that the day loop has to be compiled first, which takes a while."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

from simulator.process.compiled import CACHE, can_be_kept, is_compiled
from simulator.season.cache_files import remove_empty

Announce = Callable[[str], None]
_KNOWN: set[tuple[Path, str]] = set()  # machine code that this process has seen on disk


def say(text: str) -> None:
    """Tell on standard error, so that output stays clean."""
    print(text, file=sys.stderr)


def announce_compiling(name: str, announce: Announce | None) -> None:
    """Say, before the named function is compiled for the first time, that it takes a while."""
    if (CACHE, name) in _KNOWN:
        return
    remove_empty(announce or say)
    if is_compiled(name):
        _KNOWN.add((CACHE, name))
    else:
        often = (
            "once"
            if can_be_kept()
            else (
                f"at every run, for nothing can be kept in {CACHE.parent} (XDG_CACHE_HOME may name "
                "another folder)"
            )
        )
        (announce or say)(f"Compiling the season loop for this machine: {often}, some 20 seconds.")
