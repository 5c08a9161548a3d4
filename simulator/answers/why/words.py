"""What made a year differ, in sentences made from its numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator import units
from simulator.answers.why.calculate import BIOMASS, FEWEST, LEACHED, OUTCOMES, RESPONSE, Why
from simulator.answers.why.exchanged import PIECES
from simulator.answers.why.months import Month
from simulator.show import wording
from simulator.weather.change import MONTHS

LITTLE = {BIOMASS: 50.0, RESPONSE: 50.0, LEACHED: 1.0}  # kg/ha that are not worth a sentence
ONE_WAY = 0.6  # share of the months' departures from which on one, or all together, made it
WORTH_NAMING = 0.25  # share of the largest piece's, from which on another is named
NEAR_RAIN, NEAR_TEMPERATURE = 0.1, 0.5  # share of the usual, and degC, that are still usual
MOST = 0.5  # share of a difference that the causes named in one breath make at least
LEACHING_TOLD = 3.0  # kg/ha of applied nitrogen more or less than usual
LOST = 0.5  # share of the response that is left where it is called lost


@dataclass(frozen=True, slots=True)
class Departure:
    """How a piece of weather stood beside the usual.

    Parameters
    ----------
    span : str
        ``"November"`` where one month made it, else ``"fall"``.
    rain : bool
        Of rain, else of temperature.
    here, usual : float
        [mm] or [degC].
    months : tuple of Month
        Where they went different ways, or hardly any; else none.
    """

    span: str
    rain: bool
    here: float
    usual: float
    months: tuple[Month, ...] = ()

    @property
    def more(self) -> float:
        """That year's less the usual."""
        return self.here - self.usual


def departure(found: Why, piece: str) -> Departure:
    """Say in what a piece of that year's weather was unusual, by month where one stands out."""
    season, what = piece.split()
    rain = what == "rain"
    months = tuple(month for month in found.months if month.season == season)
    here, usual = found.weather(piece)
    apart = np.array(
        [
            (m.rain[0] - m.rain[1]) if rain else (m.temperature[0] - m.temperature[1]) * m.days
            for m in months
        ]
    )
    least = NEAR_RAIN * usual if rain else NEAR_TEMPERATURE * sum(m.days for m in months)
    total = float(np.abs(apart).sum())
    leading = int(np.argmax(np.abs(apart)))
    if len(months) > 1 and abs(apart[leading]) >= max(ONE_WAY * total, least):
        one = months[leading]
        return Departure(one.name, rain, *(one.rain if rain else one.temperature))
    if abs(float(apart.sum())) >= max(ONE_WAY * total, least):
        return Departure(season, rain, here, usual)
    return Departure(season, rain, here, usual, months)


def cause(found: Why, piece: str, system: units.System) -> tuple[str, str]:
    """Name a piece as a cause, and its size: ``"November's rain", "(11.0 in, usually 4.1 in)"``."""
    one = departure(found, piece)
    the = "" if one.span in MONTHS else "the "
    if one.months:
        name = f"the way the {one.span}'s {piece.split()[1]} went"
        return name, f"({_by_month(one, system)})"
    if one.rain:
        size = (
            f"({units.spell(one.here, 'water', system)}, usually "
            f"{units.spell(one.usual, 'water', system)})"
        )
        return (f"the dry {one.span}" if one.more < 0 else f"{the}{one.span}'s rain"), size
    side = "above" if one.more > 0 else "below"
    size = f"({units.spell(abs(one.more), 'step', system)} {side} usual)"
    return f"the {'warm' if one.more > 0 else 'cool'} {one.span}", size


def _by_month(one: Departure, system: units.System) -> str:
    """Spell each month's: ``"Sep 9.1 in, usually 3.9 in; ..."``."""
    texts = []
    for month in one.months:
        if one.rain:
            here, usual = (units.spell(value, "water", system) for value in month.rain)
            texts.append(f"{month.name[:3]} {here}, usually {usual}")
        else:
            more = month.temperature[0] - month.temperature[1]
            step = units.spell(abs(more), "step", system)
            texts.append(f"{month.name[:3]} {step} {'above' if more > 0 else 'below'} usual")
    return "; ".join(texts)


class _Names:
    """Names causes, the size of each only the first time."""

    def __init__(self, found: Why, system: units.System) -> None:
        self._found, self._system = found, system
        self._named: set[str] = set()

    def __call__(self, piece: str) -> str:
        name, size = cause(self._found, piece, self._system)
        if piece in self._named:
            return name
        self._named.add(piece)
        return f"{name} {size}"


def sentences(found: Why, system: units.System) -> list[str]:
    """Say what made the year differ, the outcome that lies furthest out first.

    Parameters
    ----------
    found : Why
    system : {"us", "si"}

    Returns
    -------
    list of str
    """
    texts = []
    names = _Names(found, system)
    for outcome in sorted(OUTCOMES, key=lambda one: -found.remarkable(one)):
        if outcome == RESPONSE:
            if found.about["nitrogen_kg_ha"] > 0:
                texts += _response(found, system, names)
        else:
            texts += [_compared(found, outcome, system), _causes(found, outcome, system, names)]
    return [sentence for sentence in texts if sentence]


def _compared(found: Why, outcome: str, system: units.System) -> str:
    """Set that year beside the usual, and beside what most years make."""
    soil = wording.dates_in(found.about["soil_from"])
    subject = {
        BIOMASS: f"Biomass {wording.ending(found.about['end'])}",
        LEACHED: f"Nitrate nitrogen leached since {soil}",
    }[outcome]
    here, usual = found.here[outcome], float(found.usual[outcome].mean())
    if abs(here - usual) < LITTLE[outcome]:
        return f"{subject} was {_mass(here, system)}, about as usual{_band(found, outcome, system)}"
    return (
        f"{subject} was {_mass(here, system)}, {_gap(here, usual, system)} "
        f"{'more' if here > usual else 'less'} than the usual {_mass(usual, system)}"
        f"{_band(found, outcome, system)}"
    )


def _band(found: Why, outcome: str, system: units.System) -> str:
    """Say where most other years lie, as the end of a sentence."""
    if len(found.others) < 2:
        return f", that of {found.others[0]}."
    low, high = band(found, outcome)
    span = f"{units.show(low, 'mass', system):,.0f} to {_mass(high, system)}"
    side = "within" if low <= found.here[outcome] <= high else "outside"
    if len(found.others) < FEWEST:
        return f", and {side} the {span} of the {len(found.others)} other falls."
    return f", and {side} the {span} in which 8 of 10 other falls lie."


def band(found: Why, outcome: str) -> tuple[float, float]:
    """Return the range in which 8 of 10 other falls lie; of fewer than ten, of all."""
    values = found.usual[outcome]
    if len(found.others) < FEWEST:
        return float(values.min()), float(values.max())
    low, high = np.percentile(values, [10.0, 90.0])
    return float(low), float(high)


def _ranked(found: Why, outcome: str) -> tuple[list[str], list[str]]:
    """Return the pieces worth naming that made the difference, and those that worked against."""
    down = found.difference(outcome) < 0
    shares = {piece: found.share(outcome, piece) for piece in PIECES}
    ranked = sorted(PIECES, key=lambda piece: -abs(shares[piece]))
    least = max(WORTH_NAMING * abs(shares[ranked[0]]), LITTLE[outcome])
    named = [piece for piece in ranked if abs(shares[piece]) >= least]
    with_it = [piece for piece in named if (shares[piece] < 0) == down]
    return with_it, [piece for piece in named if piece not in with_it]


def _causes(found: Why, outcome: str, system: units.System, names: _Names) -> str:
    """Say what made the difference, and what worked against it."""
    verbs = ("saved", "added") if outcome == LEACHED else ("cost", "brought")
    clauses = []
    for group in _ranked(found, outcome):
        listed = []
        for place, piece in enumerate(group):
            share = found.share(outcome, piece)
            verb = f" {verbs[share > 0]}" if place == 0 else ""
            listed.append(f"{names(piece)}{verb} {_mass(abs(share), system)}")
        if listed:
            clauses.append(wording.join(listed))
    return _sentence("; ".join(clauses)) if clauses else ""


def _response(found: Why, system: units.System, names: _Names) -> list[str]:
    here, usual = found.here[RESPONSE], float(found.usual[RESPONSE].mean())
    rate = _mass(found.about["nitrogen_kg_ha"], system)
    brought = (
        f"The {rate} of nitrogen {'brought' if here >= 0 else 'cost'} {_mass(abs(here), system)} "
        f"of biomass over none, usually {_signed(usual, system)}{_band(found, RESPONSE, system)}"
    )
    made, _ = _ranked(found, RESPONSE)
    if abs(here - usual) < LITTLE[RESPONSE] or not made:
        return [brought, _causes(found, RESPONSE, system, names)]
    verb = "gained by" if here > usual else "was lost to" if here < LOST * usual else "was cut by"
    main = _main(found, RESPONSE, made)
    causes = wording.join([names(piece) for piece in main])
    verdict = f"The nitrogen response {verb} {causes}"
    more_lost = found.lost[0] - found.lost[1]
    if (
        main[0].endswith("rain")
        and (more_lost > 0) == (here < usual)
        and (abs(more_lost) >= LEACHING_TOLD)
    ):
        verdict += f": {_leached(found, system)}"
    return [f"{verdict}.", brought, _causes(found, RESPONSE, system, names)]


def _main(found: Why, outcome: str, made: list[str]) -> list[str]:
    """Return as many of the causes, the largest first, as make most of the difference."""
    shares = np.cumsum([abs(found.share(outcome, piece)) for piece in made])
    enough = shares >= MOST * abs(found.difference(outcome))
    return made[: int(np.argmax(enough)) + 1] if enough.any() else made


def _leached(found: Why, system: units.System) -> str:
    """Say how much of the applied nitrogen leached: ``"41 of the 60 lb/ac leached by ..."``."""
    by = "Christmas" if found.lost_by != found.about["end"] else wording.dates_in(found.lost_by)
    here, usual = (f"{units.show(max(value, 0.0), 'nitrogen', system):.0f}" for value in found.lost)
    rate = units.spell(found.about["nitrogen_kg_ha"], "nitrogen", system)
    return f"{here} of the {rate} of nitrogen leached by {by}, usually {usual}"


def _mass(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


def _gap(one: float, other: float, system: units.System) -> str:
    """Spell a difference as the two printed numbers differ."""
    printed = [round(float(units.show(value, "mass", system))) for value in (one, other)]
    return f"{abs(printed[0] - printed[1]):,} {units.label('mass', system)}"


def _signed(value: float, system: units.System) -> str:
    return _mass(value, system) if value >= 0 else f"-{_mass(-value, system)}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
