"""One usual plan: every command that takes a plan takes the same one by default."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from simulator.commands import fallsown
from simulator.commands.shared.options import USUAL_PLAN
from simulator.commands.shared.plan_options import parts

PLAN = {
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "30 lb/acre",
    "nitrogen_timing": "sowing",
    "end": "04-15",
}
# their defaults hang on the question, or on the weather
BY_QUESTION = {("sheet", name) for name in PLAN} | {("timing", "end")}


def options_of_plans() -> Iterator[tuple[str, click.Option]]:
    """Every option of every command that says something of a plan, or which cereal it is of."""
    context = click.Context(fallsown)
    for name in fallsown.list_commands(context):
        command = fallsown.get_command(context, name)
        assert command is not None
        for option in command.params:
            if isinstance(option, click.Option) and option.name in {**PLAN, "cereal": ""}:
                yield name, option


OPTIONS = list(options_of_plans())


def test_the_usual_plan() -> None:
    assert USUAL_PLAN == PLAN
    commands = {name for name, _ in OPTIONS}
    assert commands >= {"season", "timing", "cover", "outlook", "why", "risk", "response", "budget"}
    assert commands >= {"compare", "whatif", "sheet", "sensitivity"}


@pytest.mark.parametrize(
    ("command", "option"), OPTIONS, ids=[f"{name} {option.name}" for name, option in OPTIONS]
)
def test_every_command_has_it(command: str, option: click.Option) -> None:
    name, help_ = str(option.name), " ".join((option.help or "").split())
    if name == "cereal":
        assert option.default == "rye"
    elif (command, name) in BY_QUESTION:
        assert "[default: " in help_
    elif option.multiple:
        given = parts(list(option.default), option=name)
        assert PLAN[name] in given
        assert len(given) == 1 or " to compare" in help_, help_
    else:
        assert option.default == PLAN[name]
        assert option.show_default


def test_the_sheets_questions_have_it_too() -> None:
    from simulator.answers.sheet.questions import QUESTIONS, defaults

    for question in QUESTIONS:
        found = defaults(question, "us")
        for name in ("sow", "nitrogen_timing"):
            assert PLAN[name] == found[name][0], question
        rates = parts(found["nitrogen"], option="nitrogen")
        assert rates == [PLAN["nitrogen"]] or len(rates) > 1, question


def test_the_plan_of_budget_that_says_nothing_is_the_usual_one() -> None:
    from simulator.commands.budget_plans import read_pair

    lists = {name: [text] for name, text in PLAN.items()}
    usual, _ = read_pair((), lists, ("rolling",))
    assert {name: usual[name] for name in PLAN} == lists
