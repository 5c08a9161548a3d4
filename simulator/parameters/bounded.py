"""Parameter sets: frozen, every number with its unit, bounds and source."""

from __future__ import annotations

import dataclasses
import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, TypeVar

import numpy as np

from simulator.problems import InputError, Parameter, Problem, fault


@dataclass(frozen=True, slots=True)
class Spec:
    """What is known of one parameter.

    Parameters
    ----------
    unit : str
        As pint writes it; ``"1"`` for a share.
    low, high : float
        The range outside which a value is refused.
    meaning, source : str
        In words, for docs, help and messages.
    """

    unit: str
    low: float
    high: float
    meaning: str
    source: str


def bounded(default: float, unit: str, low: float, high: float, meaning: str, source: str) -> Any:
    """Declare a bounded parameter of a set."""
    return field(default=default, metadata={"spec": Spec(unit, low, high, meaning, source)})


class BoundedSet:
    """Base of the parameter sets: checks every bound when a set is made."""

    name: str

    def __post_init__(self) -> None:
        problems = []
        for key, spec in self.specs().items():
            value = getattr(self, key)
            if not isinstance(value, int | float) or not math.isfinite(value):
                problems.append(Problem(f"{self.name}: {key}", f"{value!r} is not a number."))
            elif not spec.low <= value <= spec.high:
                problems.append(
                    Problem(
                        f"{self.name}: {key}",
                        f"{value:g} {spec.unit} is out of bounds.",
                        f"Take a value from {spec.low:g} to {spec.high:g} {spec.unit}.",
                    )
                )
        if problems:
            raise InputError(problems)

    @classmethod
    @cache
    def specs(cls) -> dict[str, Spec]:
        """Return the bounded parameters of the set by name, in order."""
        return {
            f.name: f.metadata["spec"]
            for f in dataclasses.fields(cls)  # type: ignore[arg-type]
            if "spec" in f.metadata
        }

    @classmethod
    @cache
    def dtype(cls) -> np.dtype[np.void]:
        """Return the compiled loop's form of the set: one float64 a parameter."""
        return np.dtype([(key, np.float64) for key in cls.specs()])

    def as_record(self) -> np.ndarray[Any, Any]:
        """Return the set as a structured array of one element, for the compiled loop."""
        return np.array([tuple(getattr(self, key) for key in self.specs())], dtype=self.dtype())


Kind = TypeVar("Kind")


def choose(table: Mapping[str, Kind], name: str | Kind, what: str) -> Kind:
    """Look a set up by name, or take the set given; an unknown name gets the list of names.

    Raises
    ------
    InputError
        No set of that name.
    """
    if not isinstance(name, str):
        return name
    key = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    if key in table:
        return table[key]
    near = difflib.get_close_matches(key, table, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    raise fault(
        Parameter(what), f"'{name}' is not known.{hint}", f"Choose from: {', '.join(table)}."
    )
