"""Early and late varieties of a cereal: by how many days they head sooner or later."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from simulator.parameters.bounded import BoundedSet, bounded
from simulator.parameters.cereal_set import MEDIUM, Cereal
from simulator.problems import Parameter, fault

HEADING_SHARE = 0.86  # of the progress from stem elongation to flowering, made at heading
_GERMAN = "BRIWECS, Scientific Data 2024, s41597-024-04332-7: winter wheat, 22 trials in Germany"
_DAYS = re.compile(r"^(\d{1,2})\s*days?\s+(early|late)(?:r)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Variety(BoundedSet):
    """How early a variety is; the defaults are those of a medium one."""

    name: str = MEDIUM
    source: str = "values of each parameter as listed"

    maturity: float = bounded(
        0.0,
        "d",
        -14.0,
        14.0,
        "days by which it heads after a medium variety, below 0 before",
        f"{_GERMAN}: the earliest tenth of 50 to 220 cultivars headed 3.4 days before the median, "
        "the latest 2.4 days after it; five ryes in Iowa flowered within 4 days (Iowa State "
        "University 2016)",
    )
    heading_temperature: float = bounded(
        15.3,
        "degC",
        8.0,
        22.0,
        "mean temperature at which those days were counted",
        f"{_GERMAN}, mean of the fortnight before heading",
    )

    @property
    def degree_days(self) -> float:
        """The same days as thermal time above 0 degC [degC d]."""
        return self.maturity * self.heading_temperature


medium = Variety()
VARIETIES = {
    one.name: one
    for one in (
        replace(medium, name="early", maturity=-3.0),
        medium,
        replace(medium, name="late", maturity=3.0),
    )
}


def variety(text: str | Variety) -> Variety:
    """Return a variety by its class, early, medium or late, or by its days: ``"6 days early"``.

    Raises
    ------
    InputError
        Neither, or more days than varieties differ by.
    """
    if isinstance(text, Variety):
        return text
    name = Parameter("variety")
    write = f"Take {', '.join(VARIETIES)}, or days against a medium variety: '6 days early'."
    if not isinstance(text, str):
        raise fault(name, f"{text!r} is not text.", write)
    plain = " ".join(text.lower().split())
    if plain in VARIETIES:
        return VARIETIES[plain]
    if not (match := _DAYS.match(plain)):
        raise fault(name, f"'{text[:40]}' is not known.", write)
    days = int(match[1])
    most = Variety.specs()["maturity"].high
    if days > most:
        raise fault(
            name, f"{days} days are more than varieties differ by.", f"Take 0 to {most:.0f} days."
        )
    if days == 0:
        return medium
    label = f"{days} day{'s' if days > 1 else ''} {match[2]}"
    return replace(medium, name=label, maturity=float(days if match[2] == "late" else -days))


def varieties(given: str | Sequence[str]) -> list[Variety]:
    """Return several, each once; a text may list them with commas.

    Raises
    ------
    InputError
        One that cannot be read, one given twice, or none.
    """
    texts = given.split(",") if isinstance(given, str) else list(given)
    found = [variety(text) for text in texts]
    names = [one.name for one in found]
    if not found or len(set(names)) < len(names):
        what = "A variety is given twice." if found else "No variety given."
        raise fault(Parameter("variety"), what, "Give each once.")
    return found


def grown_as(cereal: Cereal, how: str | Variety) -> Cereal:
    """Return a cereal as an early or a late variety of it; a medium one is the cereal as it is.

    What a variety wants less or more is thermal time between stem elongation and heading: its
    progress is made so much faster or slower that, at the temperature at which the days were
    counted and in long days, it heads those days sooner or later. Stems start to rise as before.

    Parameters
    ----------
    cereal : Cereal
        A medium variety.
    how : str or Variety

    Raises
    ------
    InputError
        An unknown variety, a cereal that is no medium variety already, or one that would develop
        faster than any can.
    """
    from simulator.process.development import temperature_response

    made = variety(how)
    if made.maturity == 0.0 or made.name == cereal.variety:
        return cereal
    if cereal.variety != MEDIUM:
        raise fault(
            Parameter("variety"),
            f"The {cereal.name} is {cereal.variety} already.",
            "Say it once.",
        )
    pace = temperature_response(
        made.heading_temperature,
        cereal.development_lowest,
        cereal.development_best,
        cereal.development_highest,
    )
    wanted = HEADING_SHARE / cereal.elongation_rate + made.maturity * pace
    rate = HEADING_SHARE / wanted if wanted > 0.0 else float("inf")
    high = Cereal.specs()["elongation_rate"].high
    if rate > high:
        raise fault(
            Parameter("variety"),
            f"{cereal.name.capitalize()} of a variety {made.name} would have no time to head.",
            "Take fewer days.",
        )
    return replace(cereal, variety=made.name, elongation_rate=rate)
