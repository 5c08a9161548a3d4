"""What a grower says of a field: --soil-nitrate, --organic-matter, --irrigation, everywhere."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from simulator.problems import InputError, Parameter, Problem, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.parameters.files import ParameterFile
    from simulator.parameters.soils import Soil
    from simulator.season.plan import Irrigation
    from simulator.season.soil_test import SoilTest

SAID = ("soil_nitrate", "organic_matter", "irrigation")  # the options
MEASURED = "fallsown.measured"  # key of what the click context keeps for us


@dataclass(slots=True)
class Measured:
    """What was measured and how the field is watered, and what an answer says of it.

    Parameters
    ----------
    test : SoilTest or None
    organic_matter : float or None
        [percent].
    irrigation : tuple of Irrigation
    irrigation_text : str
        As it was written.
    reported : tuple of dict and list, or None
        For the inputs, and as notes; None until the plans have given the test its day.
    """

    test: SoilTest | None
    organic_matter: float | None
    irrigation: tuple[Irrigation, ...] = ()
    irrigation_text: str = ""
    reported: tuple[dict[str, Any], list[str]] | None = None

    def soil(self, given: Any) -> Any:
        """Return a soil with the organic matter that was measured."""
        from simulator.season.soil_test import with_organic_matter

        return with_organic_matter(given, self.organic_matter)


def read_measured(
    soil_nitrate: str | None, organic_matter: str | None, irrigation: Sequence[str] = ()
) -> Measured:
    """Read what was measured and what is watered, and keep it for `with_soil_test`.

    Raises
    ------
    InputError
        Any cannot be read or is out of range; all are told.
    """
    from simulator.season.plan import read_irrigation
    from simulator.season.soil_test import read_organic_matter, read_soil_test

    problems: list[Problem] = []
    found = Measured(None, None, irrigation_text=", ".join(irrigation))
    for key, text, read in (
        ("test", soil_nitrate, read_soil_test),
        ("organic_matter", organic_matter, read_organic_matter),
        ("irrigation", found.irrigation_text or None, read_irrigation),
    ):
        try:
            if text is not None:
                setattr(found, key, read(text))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    click.get_current_context().meta[MEASURED] = found
    return found


def with_soil_test(field: dict[str, Any], *plans: Mapping[str, Any]) -> dict[str, Any]:
    """Give a field its soil test, now that the plans say on which day it holds.

    Irrigation, which the weather carries, is held against the plans here too.

    Parameters
    ----------
    field : dict
        From `simulator.commands.shared.options.split_field`.
    *plans : mapping
        All that are grown: ``sow``, ``nitrogen`` and ``nitrogen_timing``, each a text or a list,
        and ``end`` where it is known.

    Raises
    ------
    InputError
        As `simulator.season.soil_test.hold_soil_test` and
        `simulator.season.plan.check_irrigation`.
    """
    from simulator.season.plan import check_irrigation
    from simulator.season.seasons import IRRIGATION, written
    from simulator.season.soil_test import hold_soil_test, soil_test_attributes
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
        inputs |= soil_test_attributes(held.crop)
        notes += map(dates_in, held.notes)
    if measured.organic_matter is not None:
        inputs["organic_matter_percent"] = measured.organic_matter
        notes.append(f"The soil's organic matter is {measured.organic_matter:g} percent, as given.")
    if measured.irrigation:
        sowings = [text for plan in plans for text in _listed(plan["sow"])]
        check_irrigation(
            measured.irrigation,
            sowings,
            [text for plan in plans for text in _listed(plan.get("end", ()))],
        )
        inputs[IRRIGATION] = written(measured.irrigation)
        notes.append(f"Irrigation, in every fall: {irrigation_note(measured)}.")
    measured.reported = inputs, notes
    return field


def _listed(given: str | Sequence[str]) -> Sequence[str]:
    return [given] if isinstance(given, str) else given


def irrigation_note(measured: Measured) -> str:
    """Tell how the field is watered, in the units that it was written in."""
    from simulator import units
    from simulator.show import wording

    us = re.search(r"in\b|inch|ft\b|feet|foot", measured.irrigation_text, re.IGNORECASE)
    system: units.System = "us" if us else "si"
    each = [
        f"{units.spell(one.amount, 'rain', system)} on {wording.dates_in(one.date)}"
        for one in measured.irrigation
    ]
    total = units.spell(sum(one.amount for one in measured.irrigation), "rain", system)
    return wording.join(each) + (f", {total} in all" if len(each) > 1 else "")


def as_watered(record: xr.Dataset) -> xr.Dataset:
    """Return weather whose falls are irrigated as ``--irrigation`` says; as it is without that."""
    from simulator.season.seasons import irrigated

    context = click.get_current_context(silent=True)
    measured: Measured | None = None if context is None else context.meta.get(MEASURED)
    if measured is None or not measured.irrigation:
        return record
    return irrigated(record, measured.irrigation)


def refuse_irrigation(of: str) -> None:
    """Refuse irrigation where it has no say.

    Raises
    ------
    InputError
        It was given.
    """
    measured: Measured = click.get_current_context().meta[MEASURED]
    if measured.irrigation:
        raise fault(
            Parameter("irrigation"), f"It is not kept with {of}.", "Leave it out, or ask of one."
        )


def soil_finder(file: ParameterFile) -> Callable[[str], Soil]:
    """Return what finds a soil by name, changed as a file and --organic-matter say."""
    measured: Measured = click.get_current_context().meta[MEASURED]
    return lambda name: measured.soil(file.soil_set(name))


def measured_inputs_and_notes() -> tuple[dict[str, Any], list[str]]:
    """Say what was measured, for an answer's inputs and as notes."""
    measured: Measured | None = click.get_current_context().meta.get(MEASURED)
    if measured is None:
        return {}, []
    if measured.reported is None:
        raise RuntimeError("what was measured of the soil was read, and no field was given it")
    return measured.reported
