"""What a command need not load: dask's arrays, that xarray loads to ask whether it met one."""

from __future__ import annotations

import sys
from types import SimpleNamespace


def skip_dask_arrays() -> None:
    """Let xarray take it that no array is dask's, as long as nobody has loaded dask's arrays.

    xarray loads them as soon as it holds an array, which takes a command a sixth of its time; it
    wants them there for masked arrays of dask's alone, that no command makes. Where xarray keeps
    what it has found is its own: where that moves, commands are slower, and nothing else.
    """
    from xarray.namedarray import pycompat

    known = getattr(pycompat, "_cached_duck_array_modules", None)
    if known is not None and "dask.array" not in sys.modules:
        known.setdefault("dask", SimpleNamespace(module=None, type=(), available=False))
