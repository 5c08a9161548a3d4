"""One usual plan: every command that takes a plan takes the same one by default."""

from __future__ import annotations

import json
from collections.abc import Iterator

import click
import pytest
from click.testing import CliRunner

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


def test_whatif_says_which_of_its_rates_it_speaks_of() -> None:
    told = " ".join(CliRunner().invoke(fallsown, ["whatif", "--help"]).stdout.split())
    assert "its sentences speak of the one nearest 60 lb/acre; the tables have all" in told
    few = ["--years", "2005:2006"]
    said = CliRunner().invoke(fallsown, ["whatif", *few]).stdout
    assert "with 60 lb/ac of nitrogen at sowing, rye then stands" in " ".join(said.split())
    said = CliRunner().invoke(fallsown, ["whatif", "--nitrogen", "0,20 lb/acre", *few]).stdout
    assert "with 20 lb/ac of nitrogen at sowing, rye then stands" in " ".join(said.split())


FALLS = ("2005", "2006")


def rows_of(*words: str) -> dict:
    done = CliRunner().invoke(fallsown, [*words, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_one_plan_makes_one_number_in_every_answer() -> None:
    """Biomass, fall by fall, of the plan that every command takes; what leaches with it."""
    one = ["--sow", PLAN["sow"], "--nitrogen", PLAN["nitrogen"], "--years", ",".join(FALLS)]
    falls = range(int(FALLS[0]), int(FALLS[1]) + 1)
    compared = {row["year"]: row for row in rows_of("compare", *one)["rows"]}
    made = {year: row["biomass_kg_ha"] for year, row in compared.items()}
    leached = {year: row["nitrate_leached_kg_ha"] for year, row in compared.items()}
    assert sorted(made) == list(falls)

    def by_year(rows: list[dict], field: str = "biomass_kg_ha", **only: object) -> dict:
        some = [row for row in rows if all(row[name] == to for name, to in only.items())]
        return {row["year"]: row[field] for row in some}

    changed = rows_of("whatif", *one)["rows"]
    assert by_year(changed, case="as recorded") == made
    assert by_year(changed, "nitrate_leached_kg_ha", case="as recorded") == leached
    asked = ["--years", ",".join(FALLS)]
    assert by_year(rows_of("timing", "--end", PLAN["end"], *asked)["rows"]) == made
    last = rows_of("season", "--year", FALLS[0])["rows"][-1]
    assert (last["biomass_kg_ha"], last["nitrate_leached_kg_ha"]) == (made[2005], leached[2005])
    mean = {name: sum(of.values()) / 2 for name, of in (("made", made), ("leached", leached))}
    costed = rows_of("budget", "--plan", "", "--plan", "nitrogen=0 lb/acre", *one)
    assert costed["plans"][0]["biomass_kg_ha"] == pytest.approx(mean["made"], rel=1e-12)
    (kept,) = [row for row in costed["less_than_bare_soil"] if row["plan"] == "A"]
    assert kept["nitrate_leached_kg_ha"] == pytest.approx(mean["leached"], rel=1e-12)
    lying = rows_of("cover", "--sow", PLAN["sow"], "--residue", "flat", "--days", "30", *asked)
    first = next(row for row in lying["rows"] if row["day"] == 0)
    assert first["shoot_residue_kg_ha"] == pytest.approx(mean["made"], rel=1e-12)
    rates = [*one[:2], "--nitrogen", f"0,{PLAN['nitrogen']}", *asked]
    fed = rows_of("response", *rates)["rows"]
    most = max(row["nitrogen_kg_ha"] for row in fed)
    assert by_year(fed, nitrogen_kg_ha=most, nitrogen_timing=PLAN["nitrogen_timing"]) == made
