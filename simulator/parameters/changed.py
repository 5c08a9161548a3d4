"""Changed values of the parameter sets, with where they come from."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from simulator.parameters.bounded import BoundedSet, Spec
from simulator.parameters.cereals import CEREALS, Cereal, cereal
from simulator.parameters.fertilizers import FERTILIZERS, Fertilizer, fertilizer
from simulator.parameters.model_error import MODEL_ERRORS, ModelError, ModelErrors
from simulator.parameters.soils import (
    PREVIOUS_CROPS,
    SOILS,
    PreviousCrop,
    Soil,
    previous_crop,
    soil,
)

# section of the file -> the sets that it changes, by name
KINDS: Mapping[str, Mapping[str, BoundedSet]] = {
    "cereal": CEREALS,
    "soil": SOILS,
    "previous_crop": PREVIOUS_CROPS,
    "fertilizer": FERTILIZERS,
    "model_error": MODEL_ERRORS,
}

Values = Mapping[str, float]
Set = TypeVar("Set", bound=BoundedSet)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What a parameter file says of one place.

    Parameters
    ----------
    soil, previous_crop : str, optional
        Names; without them the plot table or the command names them.
    values : mapping of str to float
        Parameters of its soil and of its previous crop, by name; no name is in both.
    """

    soil: str | None = None
    previous_crop: str | None = None
    values: Values = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterFile:
    """Changed values; what is not named keeps its default.

    Parameters
    ----------
    cereal, soil, previous_crop, fertilizer, model_error : mapping of str to mapping of str to float
        Name of the set, then of the parameter; SI as the defaults are.
    site : mapping of str to Site
    provenance : mapping of str to text, number or list of text
        Who made it, by what version, when, on what data, with what skill.
    path : str
        Where it was read; empty for one made here.
    """

    cereal: Mapping[str, Values] = field(default_factory=dict)
    soil: Mapping[str, Values] = field(default_factory=dict)
    previous_crop: Mapping[str, Values] = field(default_factory=dict)
    fertilizer: Mapping[str, Values] = field(default_factory=dict)
    model_error: Mapping[str, Values] = field(default_factory=dict)
    site: Mapping[str, Site] = field(default_factory=dict)
    provenance: Mapping[str, Any] = field(default_factory=dict)
    path: str = ""

    def cereal_set(self, name: str) -> Cereal:
        """Return a cereal by name, changed where the file says so."""
        return self._changed(cereal(name), self.cereal)

    def soil_set(self, name: str) -> Soil:
        """Return a soil by name, changed where the file says so."""
        return self._changed(soil(name), self.soil)

    def previous_crop_set(self, name: str) -> PreviousCrop:
        """Return a previous crop by name, changed where the file says so."""
        return self._changed(previous_crop(name), self.previous_crop)

    def fertilizer_set(self, name: str) -> Fertilizer:
        """Return a fertilizer by name, changed where the file says so."""
        return self._changed(fertilizer(name), self.fertilizer)

    def model_error_set(self, name: str) -> ModelError:
        """Return how far off the model is, by kind of answer, changed where the file says so."""
        return self._changed(MODEL_ERRORS[name], self.model_error)

    def model_errors(self) -> ModelErrors:
        """Return all three, for answers to make their ranges of."""
        return ModelErrors(**{name: self.model_error_set(name) for name in MODEL_ERRORS})

    def site_sets(
        self, site: str, soil: str | None = None, previous_crop: str | None = None
    ) -> tuple[Soil, PreviousCrop]:
        """Return the soil and the previous crop of a place.

        Parameters
        ----------
        site : str
        soil, previous_crop : str, optional
            Names that go before those which the file has for the place; sandy loam and cotton
            where neither says.

        Raises
        ------
        InputError
            A value that the place's own soil cannot have beside its other values.
        """
        about = self.site.get(site, Site())
        ground = self.soil_set(soil or about.soil or Soil().name)
        crop = self.previous_crop_set(previous_crop or about.previous_crop or PreviousCrop().name)
        of_soil = {key: v for key, v in about.values.items() if key in Soil.specs()}
        of_crop = {key: v for key, v in about.values.items() if key not in of_soil}
        source = f"[site.{key_text(site)}] of {self.path or 'a parameter file'}"
        return _replaced(ground, of_soil, source), _replaced(crop, of_crop, source)

    def changes(self) -> list[str]:
        """List what is changed, as ``"rye growth_best 18"``."""
        found = [
            f"{name} {key} {value:g}"
            for kind in KINDS
            for name, values in getattr(self, kind).items()
            for key, value in values.items()
        ]
        return found + [
            f"{name} {key} {value:g}"
            for name, about in self.site.items()
            for key, value in about.values.items()
        ]

    def _changed(self, default: Set, sections: Mapping[str, Values]) -> Set:
        source = f"{self.path or 'a parameter file'}; the rest as listed"
        return _replaced(default, sections.get(default.name, {}), source)


def _replaced(default: Set, values: Values, source: str) -> Set:
    if not values:
        return default
    values = dict(values)
    if "organic_matter" in values:  # of this very field, wherever it lies
        values.setdefault("organic_matter_gradient", 0.0)
    made: Set = dataclasses.replace(default, source=source, **values)  # type: ignore[type-var]
    return made


def unit_of(spec: Spec) -> list[str]:
    """Return a parameter's unit, or nothing for a share."""
    return [] if spec.unit == "1" else [spec.unit]


def key_text(name: str) -> str:
    """Return a key as TOML has it, quoted where it must be."""
    bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if bare else _quoted(name)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    kept = (c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped)
    return f'"{"".join(kept)}"'


def value_text(value: Any) -> str:
    """Return a value as TOML has it."""
    if isinstance(value, list | tuple):
        return "[" + ", ".join(value_text(one) for one in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and not math.isfinite(value):
        return "nan"
    return _quoted(value) if isinstance(value, str) else repr(value)
