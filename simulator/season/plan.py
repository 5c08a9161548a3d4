"""What the grower does: sowing, nitrogen, ending the stand."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

import numpy as np

from simulator import units
from simulator.problems import InputError, Parameter, Problem, fault
from simulator.weather.fall_year import season_day

_PART = re.compile(r"^(?P<when>sowing|\d{1,2}-\d{1,2})(?:\s+(?P<share>\d+(?:/\d+)?(?:\.\d+)?%?))?$")
_STAGE = re.compile(r"^zadoks\s+(\d{1,2})$")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    r"(jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|"
    r"oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\.?"
)
_DAY = r"(\d{1,2})(?:st|nd|rd|th)?(?![\d/.%-])"  # but not the share of a split, "15 Feb 2/3"
_MONTH_FIRST = re.compile(rf"\b{_MONTH}\s*{_DAY}", re.IGNORECASE)
_DAY_FIRST = re.compile(rf"(?<![\d/.%-]){_DAY}\s*{_MONTH}(?![a-z])", re.IGNORECASE)
# Zadoks, Chang and Konzak (1974), Weed Res. 14:415-421, from memory: first node felt, boots
# swollen, half of the head out, first anthers out
STAGES = {"jointing": 31, "boot": 45, "heading": 55, "flowering": 61}

SEEDING_RANGE = (5.0, 500.0)  # kg/ha, beyond what any drill is set to
NITROGEN_RANGE = (0.0, 500.0)  # kg/ha
ENDING_RANGE = (50.0, 40000.0)  # kg/ha of biomass
MOST_DRESSINGS = 6
IRRIGATION_RANGE = (0.5, 150.0)  # mm a day, beyond what one watering puts on
MOST_IRRIGATIONS = 60
SOIL_STARTS = "09-01"  # the soil's start, unless the record or the sowing says otherwise
ANY_YEAR = 2001  # where a date without a year is checked or ordered


def dated(text: str) -> str:
    """Write dates with a month's name as month-day: ``"Oct 20"`` and ``"20 Oct"`` as ``"10-20"``.

    Whatever else the text says stays as it is.
    """
    found = _DAY_FIRST.sub(lambda match: _month_day_text(match[2], match[1]), text)
    return _MONTH_FIRST.sub(lambda match: _month_day_text(match[1], match[2]), found)


def _month_day_text(month: str, day: str) -> str:
    return f"{_MONTHS.index(month[:3].lower()) + 1:02d}-{int(day):02d}"


def month_day(text: str, *, name: str) -> str:
    """Read a date without a year: ``"10-20"``, ``"Oct 20"``, ``"20 Oct"``.

    It belongs to the fall year's season.

    Raises
    ------
    InputError
        Not a date, one that does not exist, or 02-29, which most years lack.
    """
    if not isinstance(text, str):
        raise fault(name, f"{text!r} is not a date.", "Write month-day: '10-20'.")
    text = dated(text)
    season_day(ANY_YEAR, text, name=name)
    month, day = text.strip().split("-")
    return f"{int(month):02d}-{int(day):02d}"


def day_number(year: int, date: str) -> int:
    """Days from 1 July of the fall year to a date without a year."""
    return int((season_day(year, date) - season_day(year, "07-01")).astype(int))


def order(date: str) -> int:
    """Put dates without a year, MM-DD, in the order of a season: days from 1 July of any."""
    return day_number(ANY_YEAR, date)


def date_at(number: int) -> str:
    """Return the date without a year, MM-DD, that stands there: undoes `order`."""
    return month_day_of(ANY_YEAR, number)


def date_of(year: int, number: int) -> np.datetime64:
    """Return the date that lies so many days after 1 July of the fall year."""
    return season_day(year, "07-01") + np.timedelta64(number, "D")


def month_day_of(year: int, number: int) -> str:
    """Return that date as MM-DD: undoes `day_number`."""
    return str(date_of(year, number))[5:]


@dataclass(frozen=True, slots=True)
class Dressing:
    """One application of nitrogen: a share of the rate, at sowing (``when`` None) or on a date."""

    when: str | None
    share: float


def dressings(text: str, *, name: str = Parameter("nitrogen_timing")) -> tuple[Dressing, ...]:
    """Read when the nitrogen goes on.

    Parameters
    ----------
    text : str
        ``"sowing"``, ``"02-15"``, or a split: ``"sowing+02-15"`` in equal parts,
        ``"sowing 1/3 + 02-15 2/3"``, ``"sowing 25% + 02-15 75%"``.

    Raises
    ------
    InputError
        A part that cannot be read, or shares that do not add up to one.
    """
    grammar = "Write sowing, a date such as 02-15, or a split such as 'sowing 1/3 + 02-15 2/3'."
    parts = [part.strip().lower() for part in dated(str(text)).split("+")]
    if len(parts) > MOST_DRESSINGS:
        raise fault(name, f"{len(parts)} dressings.", f"At most {MOST_DRESSINGS}.")
    read: list[tuple[str | None, Fraction | None]] = []
    for part in parts:
        match = _PART.match(part)
        if not match:
            raise fault(name, f"'{part}' cannot be read.", grammar)
        share = None
        if match["share"]:
            percent = match["share"].endswith("%")
            try:
                share = Fraction(match["share"].rstrip("%")) / (100 if percent else 1)
            except (ValueError, ZeroDivisionError) as error:
                raise fault(name, f"'{match['share']}' is not a share.", grammar) from error
        when = None if match["when"] == "sowing" else month_day(match["when"], name=name)
        read.append((when, share))
    given = [share for _, share in read if share is not None]
    if not given:
        return tuple(Dressing(when, 1.0 / len(read)) for when, _ in read)
    total = sum(given, Fraction(0))
    if len(given) != len(read) or abs(float(total) - 1.0) > 0.011:
        raise fault(name, f"The shares of '{text}' do not add up to 1.", grammar)
    return tuple(Dressing(when, float(share / total)) for when, share in read if share is not None)


@dataclass(frozen=True, slots=True)
class Irrigation:
    """Water put on in a day: the amount [mm] and the date, MM-DD."""

    amount: float
    date: str


def read_irrigation(
    given: str | Sequence[str], *, name: str = Parameter("irrigation")
) -> tuple[Irrigation, ...]:
    """Read ``"0.5 inch on 10-22"``, or several in a list, with commas or with plus signs.

    Returns
    -------
    tuple of Irrigation
        By date.

    Raises
    ------
    InputError
        What cannot be read, is out of range, or waters a day twice; all are told.
    """
    texts = [given] if isinstance(given, str) else given
    parts = [part.strip() for text in texts for part in re.split(r"[,+]", text)]
    if len(parts) > MOST_IRRIGATIONS:
        raise fault(name, f"{len(parts)} waterings.", f"At most {MOST_IRRIGATIONS}.")
    problems: list[Problem] = []
    found: dict[str, Irrigation] = {}
    for part in parts:
        try:
            one = _one_irrigation(part, name)
            if one.date in found:
                raise fault(name, f"{one.date} is watered twice.", "Give one amount for a day.")
            found[one.date] = one
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(sorted(found.values(), key=lambda one: order(one.date)))


def _one_irrigation(text: str, name: str) -> Irrigation:
    amount, *day = re.split(r"\s+on\s+", text, flags=re.IGNORECASE)
    if len(day) != 1:
        raise fault(
            name,
            f"'{text[:60]}' cannot be read.",
            "Write an amount and a day, '0.5 inch on 10-22', several with commas.",
        )
    water = units.parse(amount, "mm", name=name)
    low, high = IRRIGATION_RANGE
    if not low <= water <= high:
        raise fault(
            name,
            f"'{amount}' is out of range.",
            f"Take 0.02 to 5.9 inch ({low:g} to {high:g} mm) a day.",
        )
    return Irrigation(water, month_day(day[0], name=name))


@dataclass(frozen=True, slots=True)
class End:
    """When the stand is ended: a date, a growth stage, or a biomass [kg/ha]."""

    text: str
    date: str | None = None
    stage: float | None = None
    biomass: float | None = None


def end(text: str, *, name: str = Parameter("end")) -> End:
    """Read ``"04-15"``, ``"zadoks 61"``, one of `STAGES` or ``"4000 lb/acre"``.

    Raises
    ------
    InputError
        None of the three.
    """
    plain = dated(str(text)).strip().lower()
    if plain in STAGES:
        plain = f"zadoks {STAGES[plain]}"
    if re.match(r"^\d{1,2}-\d{1,2}$", plain):
        found = month_day(plain, name=name)
        return End(found, date=found)
    if match := _STAGE.match(plain):
        stage = float(match[1])
        if not 11 <= stage <= 91:
            raise fault(name, f"Zadoks {stage:g} is no stage to end at.", "Take 11 to 91.")
        return End(f"zadoks {stage:g}", stage=stage)
    if "/" in plain:
        mass = units.parse(plain, "kg/ha", name=name)
        if not ENDING_RANGE[0] <= mass <= ENDING_RANGE[1]:
            raise fault(name, f"'{text}' is out of range.", range_text(ENDING_RANGE))
        return End(plain, biomass=mass)
    raise fault(
        name,
        f"'{text}' cannot be read.",
        f"Write a date such as 04-15, a stage such as 'zadoks 61' ({', '.join(STAGES)}), or a"
        " biomass such as '4000 lb/acre'.",
    )


def range_text(limits: tuple[float, float]) -> str:
    """Tell limits in whole pounds that lie inside them, so that both may be written."""
    low, high = (units.show(limit, "mass", "us") for limit in limits)
    return f"Take {ceil(low)} to {floor(high)} lb/acre ({limits[0]:g} to {limits[1]:g} kg/ha)."


def _in_range(value: float, limits: tuple[float, float], *, name: str) -> float:
    if not limits[0] <= value <= limits[1]:
        raise fault(
            name,
            f"{units.spell(value, 'mass', 'us')} ({value:.3g} kg/ha) is out of range.",
            range_text(limits),
        )
    return value


def seeding_rates(text: str, *, name: str = Parameter("seeding")) -> list[float]:
    """Read seeding rates [kg/ha], refusing what no drill sows."""
    return [
        _in_range(v, SEEDING_RANGE, name=name) for v in units.parse_list(text, "kg/ha", name=name)
    ]


def nitrogen_rates(text: str, *, name: str = Parameter("nitrogen")) -> list[float]:
    """Read nitrogen rates [kg/ha], refusing what no one spreads."""
    return [
        _in_range(v, NITROGEN_RANGE, name=name) for v in units.parse_list(text, "kg/ha", name=name)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One way to grow a cover crop; every text is checked when the plan is made.

    Parameters
    ----------
    cereal : str
        rye, wheat, triticale, barley or oat.
    sow : str
        Sowing date, MM-DD.
    seeding, nitrogen : str
        Rates with their unit, such as ``"90 lb/acre"``.
    nitrogen_timing : str
        ``"sowing"``, a date, or a split (see `dressings`).
    end : str
        A date, a stage or a biomass (see `end`).
    fertilizer : str
        Kind of nitrogen.
    irrigation : str
        Water put on: ``"0.5 inch on 10-22"``, several with commas; none where it is empty.
    variety : str
        early, medium or late, or days against a medium one, ``"6 days early"``.

    Raises
    ------
    InputError
        Anything that cannot be read or is out of range; a sowing that is not before the end.
    """

    cereal: str = "rye"
    sow: str = "10-20"
    seeding: str = "90 lb/acre"
    nitrogen: str = "0 lb/acre"
    nitrogen_timing: str = "sowing"
    end: str = "04-15"
    fertilizer: str = "ammonium nitrate"
    irrigation: str = ""
    variety: str = "medium"

    def __post_init__(self) -> None:
        from simulator.parameters import cereals, fertilizers, varieties

        cereals.cereal(self.cereal)
        fertilizers.fertilizer(self.fertilizer)
        varieties.variety(self.variety)
        rates = {
            "seeding": seeding_rates(self.seeding, name="plan: seeding"),
            "nitrogen": nitrogen_rates(self.nitrogen, name="plan: nitrogen"),
        }
        for name, given in rates.items():
            if len(given) != 1:
                raise fault(f"plan: {name}", f"{len(given)} rates given.", "A plan takes one.")
        check_order(
            [month_day(self.sow, name="plan: sow")],
            [dressings(self.nitrogen_timing, name="plan: nitrogen_timing")],
            [end(self.end, name="plan: end")],
        )
        if self.irrigation:
            water = read_irrigation(self.irrigation, name="plan: irrigation")
            check_irrigation(water, [self.sow], [self.end], name="plan: irrigation")


def check_irrigation(
    irrigation: Sequence[Irrigation],
    sowings: Sequence[str],
    ends: Sequence[str],
    *,
    name: str = Parameter("irrigation"),
) -> None:
    """Refuse water that goes on before the soil's account begins, or when all is over.

    Where an end is no date, or none is known, nothing is too late.

    Raises
    ------
    InputError
        All that do not fit.
    """
    starts = min(order(date) for date in (SOIL_STARTS, *sowings))
    dates = [end(text).date for text in ends]
    last = max((order(date) if date else 366 for date in dates), default=366)
    problems = []
    for one in irrigation:
        on = order(one.date)
        if on < starts:
            begins = month_day_of(ANY_YEAR, starts)
            what = f"Water on {one.date} goes on before {begins}, when the soil's account begins."
            problems.append(Problem(name, what, "Name a later day."))
        elif on >= last:
            what = f"Water on {one.date} is not before the last end, "
            what += f"{month_day_of(ANY_YEAR, last)}."
            problems.append(Problem(name, what, "Name an earlier day, or leave it out."))
    if problems:
        raise InputError(problems)


def check_order(sowings: list[str], timings: list[tuple[Dressing, ...]], ends: list[End]) -> None:
    """Refuse a sowing, or a dressing, that does not come before the end.

    Raises
    ------
    InputError
        The first pair out of order.
    """
    dates = [e.date for e in ends if e.date is not None]
    for sowing in sowings:
        for date in dates:
            if order(sowing) >= order(date):
                raise fault(
                    Parameter("sow"),
                    f"Sowing on {sowing} is not before the end on {date}.",
                    "A season runs from July to June.",
                )
    if len(dates) == len(ends):
        last = max(dates, key=order)
        for timing in timings:
            for dressing in timing:
                if dressing.when and order(dressing.when) >= order(last):
                    raise fault(
                        Parameter("nitrogen_timing"),
                        f"Nitrogen on {dressing.when} is not before the last end, {last}.",
                    )
