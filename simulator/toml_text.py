"""TOML in: as the standard library reads it, but for integers that the format does not have."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

_BITS = 64  # of an integer, by the format's own description


def toml_of(text: str, *, parse_float: Callable[[str], Any] = float) -> dict[str, Any]:
    """Read TOML.

    Parameters
    ----------
    text : str
        The whole file.
    parse_float : callable
        As `tomllib.loads` takes it.

    Returns
    -------
    dict
        Its tables; no integer in them is of more than 64 bits, so that each can be compared,
        turned into a float and shown.

    Raises
    ------
    ValueError
        Not TOML, or a larger integer.
    RecursionError
        Tables in tables beyond all use.
    """
    read = tomllib.loads(text, parse_float=parse_float)
    _refuse_large(read, "")
    return read


def _refuse_large(value: Any, key: str) -> None:
    if isinstance(value, int) and value.bit_length() > _BITS:
        raise ValueError(f"the integer at {key} has more than {_BITS} bits")
    if isinstance(value, dict):
        for name, one in value.items():
            _refuse_large(one, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list):
        for one in value:
            _refuse_large(one, key)
