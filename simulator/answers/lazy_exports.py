"""Names of a folder that are loaded from its files when they are first used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def lazy_names(package: str, where: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a folder.

    Parameters
    ----------
    package : str
        Its name.
    where : mapping of str to str
        Name to the file of the folder that has it.
    """

    def find(name: str) -> Any:
        if name in where:
            return getattr(import_module(f"{package}.{where[name]}"), name)
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return find
