"""What bare soil beside a stand is: nothing on it, more or less old residue, or volunteers."""

from __future__ import annotations

import re
from dataclasses import dataclass

from simulator import units
from simulator.parameters.soils import PreviousCrop
from simulator.problems import Parameter, fault
from simulator.season.plan import SEEDING_RANGE, told_range

VOLUNTEERS = 11.2  # kg/ha of seed that comes up by itself: common practice, no source
_OPTION = Parameter("bare_soil")
_HOW = "Write bare, residue 2000 lb/acre, volunteers, or volunteers 20 lb/acre."
_ASKED = re.compile(r"^(bare|residue|volunteers?)(?:\s+(\S.*))?$")


@dataclass(frozen=True, slots=True)
class BareSoil:
    """A field without the cover crop and without its nitrogen.

    Parameters
    ----------
    residue : float or None
        Of the last crop, left on it in September [kg/ha]; as under the stands without it.
    volunteers : float
        Seed of the same cereal that comes up by itself on the first of the sowing dates [kg/ha].
    """

    residue: float | None = None
    volunteers: float = 0.0

    @property
    def as_asked(self) -> str:
        """Spell it as `read_bare` reads it, to the last digit."""
        if self.residue is not None:
            return f"residue {self.residue!r} kg/ha"
        return f"volunteers {self.volunteers!r} kg/ha" if self.volunteers else "bare"


def told_of_bare(kind: BareSoil | None) -> dict[str, str]:
    """Return as an attribute what bare soil is, where it is of another kind than the plain one."""
    return {} if kind is None or kind == BareSoil() else {"bare_soil": kind.as_asked}


def read_bare(asked: bool | str | BareSoil, *, name: str = _OPTION) -> BareSoil | None:
    """Read what bare soil is to be; None where there is to be none.

    Parameters
    ----------
    asked : bool, str or BareSoil
        True or ``"bare"``, ``"residue 2000 lb/acre"``, ``"volunteers"``,
        ``"volunteers 20 lb/acre"``.

    Raises
    ------
    InputError
        It cannot be read, or is out of range.
    """
    if isinstance(asked, bool):
        return BareSoil() if asked else None
    if isinstance(asked, BareSoil):
        return asked
    match = _ASKED.match(" ".join(str(asked).lower().split()))
    if match is None or (match[1] == "bare" and match[2]):
        raise fault(name, f"'{str(asked)[:60]}' is no kind of bare soil.", _HOW)
    what, amount = match.groups()
    if what == "bare":
        return BareSoil()
    if what == "residue":
        if amount is None:
            raise fault(name, "It does not say how much residue.", _HOW)
        spec = PreviousCrop.specs()["residue"]
        return BareSoil(residue=_amount(amount, (spec.low, spec.high), name))
    seed = VOLUNTEERS if amount is None else _amount(amount, SEEDING_RANGE, name)
    return BareSoil(volunteers=seed)


def _amount(text: str, between: tuple[float, float], name: str) -> float:
    found = units.parse(text, "kg/ha", name=name)
    if not between[0] <= found <= between[1]:
        raise fault(name, f"'{text}' is out of range.", told_range(between))
    return found
