"""What a grower measured of the soil: --soil-nitrate and --organic-matter, in every command."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from simulator.problems import InputError, Problem

if TYPE_CHECKING:
    from simulator.parameters.files import ParameterFile
    from simulator.parameters.soils import Soil
    from simulator.season.soil_test import SoilTest

MEASURED = "fallsown.measured"  # key of what the click context keeps for us


@dataclass(slots=True)
class Measured:
    """What was measured, and what an answer says of it.

    Parameters
    ----------
    test : SoilTest or None
    organic_matter : float or None
        [percent].
    reported : tuple of dict and list, or None
        For the inputs, and as notes; None until the plans have given the test its day.
    """

    test: SoilTest | None
    organic_matter: float | None
    reported: tuple[dict[str, Any], list[str]] | None = None

    def soil(self, given: Any) -> Any:
        """Return a soil with the organic matter that was measured."""
        from simulator.season.soil_test import with_organic_matter

        return with_organic_matter(given, self.organic_matter)


def read_measured(soil_nitrate: str | None, organic_matter: str | None) -> Measured:
    """Read what was measured, and keep it for `with_soil_test`.

    Raises
    ------
    InputError
        Either cannot be read or is out of range; both are told.
    """
    from simulator.season.soil_test import read_organic_matter, read_soil_test

    problems: list[Problem] = []
    found = Measured(None, None)
    for key, text, read in (
        ("test", soil_nitrate, read_soil_test),
        ("organic_matter", organic_matter, read_organic_matter),
    ):
        try:
            setattr(found, key, None if text is None else read(text))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    click.get_current_context().meta[MEASURED] = found
    return found


def with_soil_test(field: dict[str, Any], *plans: Mapping[str, Any]) -> dict[str, Any]:
    """Give a field its soil test, now that the plans say on which day it holds.

    Parameters
    ----------
    field : dict
        From `simulator.commands.shared.options.split_field`.
    *plans : mapping
        All that are grown: ``sow``, ``nitrogen`` and ``nitrogen_timing``, each a text or a list.

    Raises
    ------
    InputError
        As `simulator.season.soil_test.hold_soil_test`.
    """
    from simulator.season.soil_test import hold_soil_test, told_of
    from simulator.show.wording import dates_in

    measured: Measured = click.get_current_context().meta[MEASURED]
    inputs: dict[str, Any] = {}
    notes: list[str] = []
    if measured.test is not None:
        sow, nitrogen, timing = (
            [text for plan in plans for text in _listed(plan[name])]
            for name in ("sow", "nitrogen", "nitrogen_timing")
        )
        held = hold_soil_test(
            measured.test,
            field["previous_crop"],
            field["soil"],
            sow=sow,
            nitrogen=nitrogen,
            nitrogen_timing=timing,
        )
        field = {**field, "previous_crop": held.crop}
        inputs |= told_of(held.crop)
        notes += map(dates_in, held.notes)
    if measured.organic_matter is not None:
        inputs["organic_matter_percent"] = measured.organic_matter
        notes.append(f"The soil's organic matter is {measured.organic_matter:g} percent, as given.")
    measured.reported = inputs, notes
    return field


def _listed(given: str | Sequence[str]) -> Sequence[str]:
    return [given] if isinstance(given, str) else given


def soil_finder(file: ParameterFile) -> Callable[[str], Soil]:
    """Return what finds a soil by name, changed as a file and --organic-matter say."""
    measured: Measured = click.get_current_context().meta[MEASURED]
    return lambda name: measured.soil(file.soil_set(name))


def told_of_measured() -> tuple[dict[str, Any], list[str]]:
    """Say what was measured, for an answer's inputs and as notes."""
    measured: Measured | None = click.get_current_context().meta.get(MEASURED)
    if measured is None:
        return {}, []
    if measured.reported is None:
        raise RuntimeError("what was measured of the soil was read, and no field was given it")
    return measured.reported
