"""How a process function is compiled, and where the compiled code is kept.

numba checks only the file a function stands in: edit a helper in another file and a cached
caller goes on running the old science. So the cache folder carries a hash of every source that
compiled code can be made from, and of the versions that made it.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal, TypeVar

import numba
import numpy
import platformdirs

_PACKAGE = Path(__file__).resolve().parent.parent
_SOURCES = sorted(
    [*(_PACKAGE / "process").glob("*.py"), *(_PACKAGE / "season" / "day").glob("*.py")]
)


def _fingerprint() -> str:
    digest = hashlib.sha256(f"{numba.__version__} {numpy.__version__}".encode())
    for source in _SOURCES:
        digest.update(source.name.encode() + source.read_bytes())
    return digest.hexdigest()[:16]


CACHE = Path(platformdirs.user_cache_dir("fallsown", appauthor=False)) / _fingerprint()


Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile a function to machine code on its first call, cached on disk.

    The plain function stays callable as ``.py_func``. No fastmath: it breaks NaN checks and
    bit equality. ``nogil`` lets threads run members side by side; ``forceinline`` lets a long day
    be written as short functions at no cost.
    """
    return _compiled(function, inline="never")


def compiled_into_caller(function: Function) -> Function:
    """Compile a function as a part of those that call it, never by itself.

    For a large one with few callers: LLVM then works through it once instead of twice.
    """
    return _compiled(function, inline="always")


def _compiled(function: Function, inline: Literal["never", "always"]) -> Function:
    config = numba.config
    before = config.CACHE_DIR  # type: ignore[attr-defined]
    config.CACHE_DIR = str(CACHE)  # type: ignore[attr-defined]
    try:
        made: Any = numba.njit(  # type: ignore[call-overload]  # its stub lacks the last
            cache=True,
            nogil=True,
            error_model="numpy",
            forceinline=True,
            inline=inline,
            no_cfunc_wrapper=True,  # a way in for C that nobody takes, a tenth of the time
        )(function)
    finally:
        config.CACHE_DIR = before  # type: ignore[attr-defined]
    return made  # type: ignore[no-any-return]  # to a type checker still the plain function


def is_compiled(name: str) -> bool:
    """Say whether machine code of the named function is already on disk."""
    return any(CACHE.rglob(f"*.{name}-*.nbi"))


def can_be_kept() -> bool:
    """Say whether machine code can be kept on disk for the next run."""
    try:
        CACHE.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(CACHE, os.W_OK)
