"""One price: money by a unit of mass or area, exact to the last decimal written."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

Mass = Literal["lb", "kg", "ton", "Mg"]  # a ton is the US short ton
Area = Literal["acre", "ha"]

CENT = Decimal("0.01")
KILOGRAM_PER_POUND = Decimal("0.45359237")  # NIST SP 811, exact
# US survey acre, as the rest of the program has it: 43560 survey feet of 1200/3937 m squared
HECTARE_PER_ACRE = Decimal(43560) * (Decimal(1200) / Decimal(3937)) ** 2 / Decimal(10000)
_IN_BASE = {
    "lb": KILOGRAM_PER_POUND,
    "ton": 2000 * KILOGRAM_PER_POUND,
    "kg": Decimal(1),
    "Mg": Decimal(1000),
    "acre": HECTARE_PER_ACRE,
    "ha": Decimal(1),
}


def cents(amount: Decimal) -> Decimal:
    """Round money to the cent, half a cent upwards."""
    return amount.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class Price:
    """Money by a unit of mass or area.

    Parameters
    ----------
    amount : Decimal
        As written.
    unit : {"lb", "kg", "ton", "Mg", "acre", "ha"}
    """

    amount: Decimal
    unit: str

    def by(self, unit: Mass | Area) -> Decimal:
        """Return the price by another unit of the same kind, not rounded."""
        if unit == self.unit:
            return self.amount
        return self.amount * _IN_BASE[unit] / _IN_BASE[self.unit]

    def text(self, currency: str) -> str:
        """Spell the price as a file has it: ``"0.20 $/lb"``."""
        return f"{self.amount:f} {currency}/{self.unit}"

    def scaled(self, factor: Decimal) -> Price:
        """Return the price times a factor."""
        return Price(self.amount * factor, self.unit)
