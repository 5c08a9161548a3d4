"""The two plans that a budget sets side by side, read and completed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.commands.shared import options, plan_options
from simulator.problems import Parameter

if TYPE_CHECKING:
    from simulator.season.plan import Irrigation

OTHER_NITROGEN = "90 lb/acre"  # of the plan beside the usual one


def read_pair(
    texts: tuple[str, ...], plans: dict[str, Any], endings: tuple[str, ...]
) -> list[dict[str, Any]]:
    """Read the two plans that are set side by side."""
    usual = {
        name.replace("_", "-"): text
        for name, text in {
            **options.USUAL_PLAN,
            "sow": plans["sow"][0],
            "end": plans["end"][-1],
        }.items()
    }
    late = f"sow={plans['sow'][-1]}; nitrogen={OTHER_NITROGEN}"
    return [_plan(text, usual, endings) for text in _two(texts, late)]


def left_out_of(texts: tuple[str, ...], pair: list[dict[str, Any]]) -> list[str]:
    """Say what a plan that the user gave leaves out, and what it was taken to be."""
    from simulator.show import wording

    notes = []
    given = list(zip("AB", pair, strict=True))[2 - len(texts) :]
    for text, (letter, read) in zip(texts, given, strict=True):
        said = {_key(part) for part in text.split(";")}
        taken = [
            f"{name} = {wording.dates_in(read[name.replace('-', '_')][0])}"
            for name in ("sow", "seeding", "nitrogen", "nitrogen-timing", "end")
            if name not in said
        ]
        if taken:
            notes.append(
                f"Plan {letter} does not say everything; taken for it: {', '.join(taken)}."
            )
    return notes


def watered_notes(pair: list[dict[str, Any]]) -> list[str]:
    """Say which of the two plans has irrigation of its own, and that water has no price here."""
    from simulator.show import wording
    from simulator.units import spell

    notes = []
    for letter, one in zip("AB", pair, strict=True):
        if one["irrigation"] is None:
            continue
        each = [
            f"{spell(water.amount, 'rain', 'us')} ({spell(water.amount, 'rain', 'si')}) on "
            f"{wording.dates_in(water.date)}"
            for water in one["irrigation"]
        ]
        text = wording.join(each) if each else "none"
        notes.append(
            f"Irrigation of plan {letter}, in every fall: {text}. Water has no price here."
        )
    return notes


def _two(texts: tuple[str, ...], late: str) -> list[str]:
    """Return two plans: as given, or with defaults; an empty text is the usual plan."""
    from simulator.problems import fault

    if len(texts) > 2:
        raise fault(Parameter("plan"), f"{len(texts)} plans are given.", "Set two side by side.")
    return (["", late], ["", *texts], list(texts))[len(texts)]


def _plan(text: str, usual: dict[str, str], endings: tuple[str, ...]) -> dict[str, Any]:
    """Read a plan; what it does not say is as in the usual plan."""
    from simulator.problems import InputError, Problem
    from simulator.season.plan import check_irrigation

    keys = (*usual, "irrigation", "ended-by")
    given: dict[str, str] = {}
    problems = []
    for part in filter(str.strip, text.split(";")):
        key, said = _key(part), part.partition("=")[2].strip()
        if key not in keys or not said:
            problems.append(
                Problem(
                    Parameter("plan"),
                    f"'{part.strip()[:60]}' cannot be read.",
                    f"Write key=value with one of {', '.join(keys)}.",
                )
            )
        elif key in given:
            problems.append(Problem(Parameter("plan"), f"'{key}' is said twice.", "Say it once."))
        given[key] = said
    if problems:
        raise InputError(problems)
    ended = (
        read_endings(given.pop("ended-by"), Parameter("plan")) if "ended-by" in given else endings
    )
    water = read_water(given.pop("irrigation", None))
    full = {**usual, **given}
    read = plan_options.plans(**{key.replace("-", "_"): [said] for key, said in full.items()})
    plan_options.one_each(read)
    if water:
        check_irrigation(water, read["sow"], read["end"], name=Parameter("plan"))
    return {**read, "irrigation": water, "ended_by": ended}


def _key(part: str) -> str:
    return part.partition("=")[0].strip().lower().replace("_", "-")


def read_water(text: str | None) -> tuple[Irrigation, ...] | None:
    """Read a plan's irrigation, of which it may say none; None where it says nothing."""
    from simulator.season.plan import read_irrigation

    if text is None:
        return None
    return () if text.lower() == "none" else read_irrigation(text, name=Parameter("plan"))


def read_endings(text: str, name: str) -> tuple[str, ...]:
    """Read the work that ends a stand."""
    from simulator.answers.budget.calculate import ENDINGS
    from simulator.problems import fault

    given = [part.strip().lower() for part in text.split(",")]
    if given == ["none"]:
        return ()
    wrong = [part for part in given if part not in ENDINGS]
    if wrong or len(set(given)) < len(given):
        what = f"'{wrong[0][:40]}' ends no stand." if wrong else "A work is given twice."
        raise fault(name, what, f"Take of {', '.join(ENDINGS)}, or none.")
    return tuple(work for work in ENDINGS if work in given)
