"""A plan and the field it is for, as a link has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

from simulator.parameters.soils import PreviousCrop, Soil
from simulator.season import plan as plans
from simulator.season.soil_test import measured_sets

KEPT = 256  # rates that were read: an answer asks for them many times


@dataclass(frozen=True, slots=True, kw_only=True)
class Sown:
    """A plan and the field it is for, read and checked.

    Parameters
    ----------
    cereal, soil, previous_crop, fertilizer : str
        Names of parameter sets.
    sow, end : str
        Dates, MM-DD.
    seeding, nitrogen : str
        Rates as written, with their unit.
    nitrogen_timing : str
        As `simulator.season.plan.dressings` reads it.
    soil_nitrate, organic_matter : str
        As `simulator.season.soil_test` reads them, the first with its day; empty for none.
    """

    cereal: str
    soil: str
    previous_crop: str
    fertilizer: str
    sow: str
    seeding: str
    nitrogen: str
    nitrogen_timing: str
    end: str
    soil_nitrate: str = ""
    organic_matter: str = ""

    def field(self, **others: Sequence[str]) -> tuple[Soil, PreviousCrop, list[str]]:
        """Return soil and previous crop with what was measured, and what is to be said of it.

        Parameters
        ----------
        **others
            ``sow``, ``nitrogen`` and ``nitrogen_timing`` of other plans on the same field; the
            plan's own without them.

        Raises
        ------
        InputError
            A soil test that does not fit the plans.
        """
        grown = others or {
            "sow": [self.sow],
            "nitrogen": [self.nitrogen],
            "nitrogen_timing": [self.nitrogen_timing],
        }
        return measured_sets(
            self.soil,
            self.previous_crop,
            soil_nitrate=self.soil_nitrate or None,
            organic_matter=self.organic_matter or None,
            sow=grown["sow"],
            nitrogen=grown["nitrogen"],
            nitrogen_timing=grown["nitrogen_timing"],
        )

    def plan(self) -> plans.Plan:
        """Return the plan by itself, as `run_season` takes it."""
        return plans.Plan(
            cereal=self.cereal,
            fertilizer=self.fertilizer,
            sow=self.sow,
            seeding=self.seeding,
            nitrogen=self.nitrogen,
            nitrogen_timing=self.nitrogen_timing,
            end=self.end,
        )

    @property
    def seeding_kg_ha(self) -> float:
        """Seeding rate [kg/ha]."""
        return _seeding(self.seeding)

    @property
    def nitrogen_kg_ha(self) -> float:
        """Nitrogen rate [kg/ha]."""
        return _nitrogen(self.nitrogen)

    @property
    def dressings(self) -> tuple[plans.Dressing, ...]:
        """When the nitrogen goes on."""
        return plans.dressings(self.nitrogen_timing)


@lru_cache(KEPT)
def _seeding(text: str) -> float:
    return plans.seeding_rates(text)[0]


@lru_cache(KEPT)
def _nitrogen(text: str) -> float:
    return plans.nitrogen_rates(text)[0]


PARTS = tuple(field.name for field in fields(Sown))
