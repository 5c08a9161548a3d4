"""What ``fallsown risk`` asks of each place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from simulator.commands.shared import options, plan_options
from simulator.commands.shared.measured import as_watered, with_soil_test
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import InputError, Parameter, Text, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.risk.calculate import Risk
    from simulator.parameters.soils import Soil
    from simulator.season.layout import BareSoil

# options that say what is asked, beside the kinds of year and the forecast
QUESTION_NAMES = (
    "target",
    "chance",
    "kinds_season",
    "generate",
    "method",
    "seed",
    "years",
    "sow",
    "seeding",
    "nitrogen",
    "nitrogen_timing",
    "end",
    "bare_soil",
)


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked of each place.

    Parameters
    ----------
    plans, field : dict
        Arguments of `compare`.
    soil_of : callable
        Finds the soil that a place names.
    years : list of int or None
    target : float
        [kg/ha].
    often : float
        Chance that the latest sowing is to have.
    kinds, weights : str or None
        How falls are sorted, and a forecast of the kind.
    kinds_season : str
        Of the Oceanic Nino Index.
    generate : int or None
        Falls to make from each record, by ``method`` and ``seed``.
    bare_soil : BareSoil
        What stands beside the plans.
    """

    plans: dict[str, Any]
    field: dict[str, Any]
    soil_of: Callable[[str], Soil]
    years: list[int] | None
    target: float
    often: float
    kinds: str | None
    kinds_season: str
    weights: str | None
    generate: int | None
    method: Any
    seed: int
    bare_soil: BareSoil

    def check(self) -> None:
        """Refuse what does not go together.

        Raises
        ------
        InputError
            An end by biomass; years of generated falls.
        """
        if massive := [text for text in self.plans["end"] if "/" in text]:
            raise fault(
                Parameter("end"),
                f"'{massive[0]}' is a biomass, which the risk is to tell.",
                "Write a date or a stage.",
            )
        if self.generate is not None and self.years is not None:
            raise fault(
                Parameter("years"),
                "Generated falls are no years of the record.",
                Text("Leave ", Parameter("years"), " or ", Parameter("generate"), " out."),
            )

    @property
    def needs_record(self) -> bool:
        """Whether seasons alone do not answer it."""
        return self.kinds is not None or self.generate is not None

    def answer(
        self, record: xr.Dataset | InputError, *, latest: bool = False, bare: bool = False
    ) -> Risk:
        """Answer it from the record of a place; with the latest sowing, and beside bare soil.

        Raises
        ------
        InputError
            The record, where it is one; as `simulator.answers.risk.calculate.risk_at`.
        """
        from simulator.answers.risk import calculate as risk
        from simulator.answers.shared.variety import heading_sentences
        from simulator.commands.shared.reporting import check_size
        from simulator.weather.generator.generated import generate_weather
        from simulator.weather.year_types import kinds_of_year
        from simulator.weather.year_weights import parse_weights

        if isinstance(record, InputError):
            raise record
        own = {"soil": self.soil_of(record.attrs["soil"])} if "soil" in record.attrs else {}
        plans = self.plans
        sowings = covered_sowings(record, plans["sow"], plans["end"], self.years)
        recorded, kinds = None, None
        if self.generate is not None:
            recorded = risk.whole_falls(record, sowings, plans["end"])
            record = as_watered(generate_weather(record, self.generate, self.seed, self.method))
        check_size(self.years, record, *(len(plans[name]) for name in plans if name != "end"))
        if self.kinds is not None:
            kinds = kinds_of_year(record, self.kinds, season=self.kinds_season)
        forecast = None if self.weights is None else parse_weights(self.weights, kinds or {})
        found = risk.risk_at(
            record,
            {**plans, "sow": sowings},
            {**self.field, **own},
            target=self.target,
            often=self.often,
            years=self.years,
            kinds=kinds,
            weights=forecast,
            recorded=recorded,
            latest=latest,
            bare=self.bare_soil if bare else False,
            errors=options.model_errors(),
            announce=options.announce,
        )
        field = {**self.field, **own}
        headed = heading_sentences(
            record, {**plans, "sow": sowings}, field, self.years, announce=options.announce
        )
        return replace(found, headed=tuple(headed))

    def answer_from(self, seasons: xr.Dataset) -> Risk:
        """Answer it from the seasons of a place of a grid.

        Raises
        ------
        InputError
            As `simulator.answers.risk.calculate.risk_in`.
        """
        from simulator.answers.risk.calculate import risk_in

        return risk_in(seasons, target=self.target, often=self.often, errors=options.model_errors())


def read_target(text: str) -> float:
    """Read the target [kg/ha].

    Raises
    ------
    InputError
        No unit, or out of range.
    """
    from simulator import units
    from simulator.season.plan import ENDING_RANGE, range_text

    target = units.parse(text, "kg/ha", name=Parameter("target"))
    if not ENDING_RANGE[0] <= target <= ENDING_RANGE[1]:
        raise fault(Parameter("target"), f"'{text}' is out of range.", range_text(ENDING_RANGE))
    return target


def read_question(
    field: dict[str, Any],
    soil_of: Callable[[str], Soil],
    *,
    target: str,
    chance: int,
    kinds: str | None,
    kinds_season: str,
    weights: str | None,
    generate: int | None,
    method: Any,
    seed: int,
    years: str,
    bare_soil: str,
    **plan: Sequence[str],
) -> Question:
    """Read what is asked of each place.

    Raises
    ------
    InputError
        What cannot be read, and what does not go together.
    """
    from simulator.season.layout import BareSoil, read_bare
    from simulator.weather.year_types import FALL_RAIN

    plans = plan_options.plans(**plan)
    question = Question(
        plans=plans,
        field=with_soil_test(field, plans),
        soil_of=soil_of,
        years=plan_options.parse_years(years),
        target=read_target(target),
        often=chance / 100,
        kinds=FALL_RAIN if kinds is None and weights is not None else kinds,
        kinds_season=kinds_season,
        weights=weights,
        generate=generate,
        method=method,
        seed=seed,
        bare_soil=read_bare(bare_soil) or BareSoil(),
    )
    question.check()
    return question
