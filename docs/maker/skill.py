"""The page of skill: how far off the model is, beside a regression and a constant.

``python -m docs.maker skill`` writes it again, from the open trials beside the repository. Each
figure of a part left out comes from numbers fitted without it.
"""

from __future__ import annotations

import csv
import datetime
import re
import sys
import textwrap
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from docs.maker import calibration, yardstick
from docs.maker import errors as model_errors
from docs.maker.calibration import Trials
from docs.maker.open_trials import OPEN_DATA, season_weights
from docs.maker.scores import mean, root_mean_square, spread
from docs.maker.stage_days import StageDays, stage_days
from docs.maker.tables import table
from simulator.trials.contrasts import gains, responses
from simulator.trials.skill import correlation

Array = np.ndarray[Any, Any]

PAGE = Path(__file__).resolve().parents[1] / "skill.md"
HISTORY = Path(__file__).with_name("skill_history.csv")
SHIPPED, FITTED = "model as shipped", "model fitted to all"
SEASON, PLACE = "model, season left out", "model, place left out"
JUDGED = (SHIPPED, SEASON, PLACE)
STRAIGHT, BENT = "regression", "regression with logarithms"
WIDTH = 100  # of a line of text
HISTORY_BEGINS, HISTORY_ENDS = "<!-- history -->", "<!-- end of history -->"
MONTHS = ("", "January", "February", "March", "April", "May", "June")


@dataclass(frozen=True, slots=True)
class Answers:
    """What one way of reckoning says of every row of rye.

    Parameters
    ----------
    biomass, percent, nitrogen : array (row,)
        [kg/ha], nitrogen percent, nitrogen in shoots [kg/ha].
    """

    biomass: Array
    percent: Array
    nitrogen: Array


@dataclass(frozen=True, slots=True)
class Judged:
    """All that the page is made from.

    Parameters
    ----------
    rows : DataFrame
        Rows of rye.
    weights : array (row,)
        Each site-season counts once.
    place_of : array of str (row,)
    measured : Answers
    answers : dict of str to Answers
    temperatures : Series
        Mean of the day at each site, by site and day.
    """

    rows: pd.DataFrame
    weights: Array
    place_of: Array
    measured: Answers
    answers: dict[str, Answers]
    temperatures: dict[str, pd.Series]


def gain_scores(rows: pd.DataFrame, biomass: Array) -> dict[str, float]:
    """Judge growth between samplings: n, means, correlation, error [kg/ha a day]."""
    return _pair_scores(gains(rows.assign(simulated_biomass_kg_ha=biomass)))


def response_scores(rows: pd.DataFrame, biomass: Array, when: str = "all") -> dict[str, float]:
    """Judge responses to nitrogen given in fall, spring, both, or all of them [kg/ha]."""
    pairs = responses(rows.assign(simulated_biomass_kg_ha=biomass))
    if when != "all":
        pairs = pairs[when_fed(rows).loc[pairs["fed"]].to_numpy() == when]
    return _pair_scores(pairs)


def when_fed(rows: pd.DataFrame) -> pd.Series:
    """Say of each row whether nitrogen was given in fall, spring, both or not."""
    fall, spring = rows["nitrogen_fall_kg_ha"] > 0.0, rows["nitrogen_spring_kg_ha"] > 0.0
    named = np.select([fall & spring, fall, spring], ["both", "fall", "spring"], "none")
    return pd.Series(named, rows.index)


def _pair_scores(pairs: pd.DataFrame) -> dict[str, float]:
    seen, made = pairs["measured"].to_numpy(float), pairs["simulated"].to_numpy(float)
    return {
        "n": float(len(pairs)),
        "measured": mean(seen),
        "simulated": mean(made),
        "spread": spread(seen),
        "r": correlation(seen, made),
        "rmse": root_mean_square(made - seen),
    }


def judge(trials: Trials, left: Mapping[str, calibration.CrossValidation], fitted: Array) -> Judged:
    """Lay every answer beside what was measured.

    Parameters
    ----------
    trials : Trials
    left : mapping of str to CrossValidation
        By "season" and "place".
    fitted : array (freed,)
        Fitted to all.
    """
    is_rye = (trials.table["cereal"] == "rye").to_numpy()
    rows = trials.table[is_rye].reset_index(drop=True)
    weights = season_weights(rows)
    percent = rows["nitrogen_percent"].to_numpy(float)
    biomass = rows["biomass_kg_ha"].to_numpy(float)
    measured = Answers(biomass, percent, biomass * percent / 100.0)

    def of_model(made: Array) -> Answers:
        own = made[is_rye]
        return Answers(
            np.nan_to_num(own["biomass_kg_ha"]),
            own["nitrogen_percent"],
            np.nan_to_num(own["nitrogen_uptake_kg_ha"]),
        )

    answers = {
        SHIPPED: of_model(trials.simulate()),
        FITTED: of_model(trials.simulate(fitted)),
        SEASON: of_model(left["season"].made),
        PLACE: of_model(left["place"].made),
    }
    parts = {
        "fitted to all": None,
        "season left out": trials.season_of[is_rye],
        "place left out": trials.place_of[is_rye],
    }
    straight = yardstick.columns(rows, trials.records)
    constant = straight[:, :1]
    plain = np.full(len(rows), 1.0 / len(rows))
    for name, given, own in (
        (STRAIGHT, straight, weights),
        (f"{STRAIGHT}, rows weighed alike", straight, plain),
        (BENT, yardstick.bent(straight), weights),
        (f"{BENT}, rows weighed alike", yardstick.bent(straight), plain),
        ("constant", constant, weights),
    ):
        for how, part_of in parts.items():
            answers[f"{name}, {how}"] = Answers(
                *(
                    given @ yardstick.coefficients(given, seen, own)
                    if part_of is None
                    else yardstick.left_out(given, seen, own, part_of)
                    for seen in (measured.biomass, measured.percent, measured.nitrogen)
                )
            )
    temperatures = {
        site: (0.5 * (record["tmax"] + record["tmin"])).to_series()
        for site, record in trials.records.items()
    }
    place_of = np.array(trials.places)[trials.place_of[is_rye]]
    return Judged(rows, weights, place_of, measured, answers, temperatures)


def headline(judged: Judged) -> dict[str, str]:
    """Return the figures that one line of the page's history holds, as they are written there."""

    def level(name: str) -> str:
        wrong = judged.answers[name].biomass - judged.measured.biomass
        return f"{root_mean_square(wrong, judged.weights):.0f}"

    one = judged.answers[SEASON]
    grown = gain_scores(judged.rows, one.biomass)
    fed = response_scores(judged.rows, one.biomass)
    percent = root_mean_square(one.percent - judged.measured.percent, judged.weights)
    return {
        "shipped": level(SHIPPED),
        "season_left_out": level(SEASON),
        "place_left_out": level(PLACE),
        "gain_correlation": f"{grown['r']:.2f}",
        "gain_rmse": f"{grown['rmse']:.0f}",
        "response_rmse": f"{fed['rmse']:.0f}",
        "nitrogen_percent_rmse": f"{percent:.2f}",
    }


def renew(folder: Path | None = None, page: Path = PAGE, *, workers: int = 2) -> str:
    """Write the page again, where the open trials are.

    Parameters
    ----------
    folder : Path, optional
        Of open data; `OPEN_DATA` without it.
    page : Path
    workers : int
        Processes.

    Returns
    -------
    str
        What to tell: the headline figures, or that the page stays as it is.
    """
    folder = folder or OPEN_DATA
    if not (folder / "trials").is_dir():
        return (
            f"The open trials are not here (no folder {folder.parent.name}/{folder.name}), so "
            f"{page.name} stays as it is{_made_on(page)}."
        )
    print(
        "Some minutes: the model is fitted again without each season and each place.",
        file=sys.stderr,
        flush=True,
    )
    started = time.monotonic()
    trials = calibration.prepare(folder)
    left = {
        part: calibration.cross_validate(trials, part, folder, workers=workers)
        for part in ("season", "place")
    }
    fitted = calibration.fit(trials)
    judged = judge(trials, left, fitted)
    stages = stage_days(trials)
    figures = headline(judged)
    seconds = time.monotonic() - started
    text = page_text(trials, left, fitted, judged, stages, seconds)
    page.write_text(text, encoding="utf-8")
    model_errors.keep(trials, left["place"])
    line = ",".join([f"{datetime.date.today()}", "WHAT CHANGED", *figures.values()])
    return (
        f"Renewed: {page.name}, in {seconds:.0f} s. The line for {HISTORY.name}, which "
        f"`python -m docs.maker history` puts on the page:\n{line}\n"
        "The model's own error, for simulator/parameters/model_error.py:\n"
        + model_errors.printed(model_errors.kept(judged.rows))
    )


def renew_history(page: Path = PAGE, file: Path = HISTORY) -> None:
    """Put the history into the page as it is, without judging the model again."""
    text = page.read_text(encoding="utf-8")
    before, _, rest = text.partition(HISTORY_BEGINS)
    _, _, after = rest.partition(HISTORY_ENDS)
    page.write_text(f"{before}{history_table(file)}{after}", encoding="utf-8")


def renew_errors(folder: Path | None = None, page: Path = PAGE, *, workers: int = 2) -> str:
    """Find the sets of the model's own error again and renew their section of the page.

    Parameters
    ----------
    folder, page, workers
        As in `renew`.

    Returns
    -------
    str
        The sets, as ``simulator/parameters/model_error.py`` has them.
    """
    folder = folder or OPEN_DATA
    if not (folder / "trials").is_dir():
        return f"The open trials are not here (no folder {folder.parent.name}/{folder.name})."
    trials = calibration.prepare(folder)
    model_errors.keep(trials, calibration.cross_validate(trials, "place", folder, workers=workers))
    return lay_errors(trials.table[trials.table["cereal"] == "rye"], page)


def lay_errors(rows: pd.DataFrame, page: Path = PAGE) -> str:
    """Renew the section from what is kept of places left out, and return the sets."""
    found = model_errors.kept(rows)
    text = page.read_text(encoding="utf-8")
    before, _, rest = text.partition(model_errors.BEGINS)
    _, _, after = rest.partition(model_errors.ENDS)
    laid = laid_out(model_errors.section(found, _named)).rstrip()
    page.write_text(f"{before}{laid}{after}", encoding="utf-8")
    return model_errors.printed(found)


def _made_on(page: Path) -> str:
    found = (
        re.search(r"^Made on (.+?),", page.read_text("utf-8"), re.MULTILINE)
        if (page.is_file())
        else None
    )
    return f" (made on {found[1]})" if found else ""


def page_text(
    trials: Trials,
    left: Mapping[str, calibration.CrossValidation],
    fitted: Array,
    judged: Judged,
    stages: StageDays,
    seconds: float,
) -> str:
    """Put the page together."""
    rows = judged.rows
    seasons = rows.groupby(["site", "year"]).ngroups
    levels = judged.measured.biomass
    sowings = (trials.table["growth_stage_zadoks"] == calibration.HEADING).sum()
    today = datetime.date.today()
    fits = sum(len(one.names) for one in left.values()) + 1
    parts = [
        "# How far off the answers are",
        "<!-- Made by `python -m docs.maker skill`: change docs/maker/skill.py, not this page. -->",
        f"Made on {today.day} {today:%B %Y}, from {len(rows)} measured stands of rye in {seasons} "
        f"site-seasons at {len(set(judged.place_of))} places, "
        f"{rows['latitude'].min():.0f} to {rows['latitude'].max():.0f} degrees north, and "
        f"{sowings} sowings of wheat in Germany. Every change of the model is judged by this "
        "page, and no answer of the program sounds surer than it.",
        "In short, biomass, each site-season counting once (kg/ha):",
        _short(judged),
        _verdict(judged),
        "## How to read it",
        "- **As shipped**: the defaults, with only the soil and the previous crop of each field "
        "named. Those defaults were set with some of these rows in hand, so this is not a "
        "forecast.\n"
        f"- **Season left out**: {len(trials.freed)} numbers of the model are fitted again, from "
        "textbook values and guesses from before any fit, without one season of one field, and "
        "predict that season; each season in turn. Only the numbers are fitted again: how the "
        "model is built was settled with all rows in sight.\n"
        "- **Place left out**: the same without all seasons of one place. Fields that share a "
        "weather file are one place. This is what to expect on a farm that is not in these "
        "trials.\n"
        "- **Fitted to all**: nothing left out. Its gap to the lines below it is how much "
        "fitting flatters.\n"
        "- **RMSE**, root mean square error: about two answers in three are off by less. **Bias** "
        "is the mean of simulated minus measured: above 0 is too much. **r** is the "
        "correlation: 1 is perfect order, 0 is none.\n"
        "- **By season** each season of a field counts once, however many plots it had. By row, "
        "two or three large trials speak for all.\n"
        "- **Constant**: the mean of the other stands, whatever the weather. An answer that is no "
        "nearer than a constant is worth nothing.",
        "## Biomass",
        _levels(judged),
        f"The measured stands run from {levels.min():,.0f} to {levels.max():,.0f} kg/ha; their "
        f"standard deviation is {spread(levels):,.0f} kg/ha by row and "
        f"{spread(levels, judged.weights):,.0f} by season.",
        "## Biomass by place",
        "RMSE and, in brackets, bias (kg/ha), each season once. The regression is the one with "
        "logarithms.",
        _by(judged, judged.place_of, _named, "place"),
        "## Biomass by month of sampling",
        _by(judged, rows["sampled"].dt.month.to_numpy(), lambda month: MONTHS[month], "month"),
        "## Growth between two samplings of a stand",
        "kg/ha a day, each pair counting once. A stand that is judged at two dates needs this "
        "right: it is what waiting another week brings.",
        _gains(judged),
        "## Response to nitrogen",
        "kg/ha of biomass over the same stand without nitrogen, sampled the same day; each pair "
        "counting once. The spread is the standard deviation of the measured responses: a "
        "constant would be off by that.",
        _responses(judged),
        "## What is promised, and what holds",
        *model_errors.section(
            model_errors.errors_of(rows, judged.answers[PLACE].biomass, judged.place_of), _named
        ),
        "## Nitrogen in the stand",
        "RMSE and, in brackets, bias, each season once. First percent of dry matter.",
        _nitrogen(judged, "percent", "{:.2f}"),
        "Nitrogen in the shoots (kg/ha):",
        _nitrogen(judged, "nitrogen", "{:.0f}"),
        "## Growth stages",
        *_stages(trials, left, stages),
        "## The regression",
        _about_regression(trials, judged),
        "## The numbers that are fitted",
        f"{len(trials.freed)} numbers, each pulled to where the fit begins (a tenth "
        "of its range, or a quarter of the logarithm of a ratio). A number of the soil is a ratio "
        "to each texture's own. They are fitted to biomass, growth, response, nitrogen percent and "
        "stages together, each site-season counting once within each kind.",
        _freed(trials, left, fitted),
        "## How this page changed",
        "One line for each change of the model. RMSE of biomass by season (kg/ha) as shipped, with "
        "a season and with a place left out; with a season left out, r and RMSE of growth (kg/ha "
        "a day), RMSE of responses (kg/ha) and of nitrogen percent.",
        history_table(),
        "## How it was made",
        "`python -m docs.maker skill` reads the open trials from the folder `shared/open-data` "
        f"beside the repository, fits {fits} times, and writes this page; it took "
        f"{seconds / 60:.1f} minutes. Where that folder is absent the page stays as it is. Each "
        "change of the model runs it, and adds the figures that it prints to "
        "`docs/maker/skill_history.csv`. What is fitted, and to what, stands in "
        "`docs/maker/calibration.py`. How the defaults were set is in "
        "[calibration.md](calibration.md).",
    ]
    return laid_out(parts)


def laid_out(parts: Sequence[str]) -> str:
    """Put parts under each other, the lines of running text and of lists of one length."""
    made = []
    for part in "\n\n".join(parts).split("\n\n"):
        if part.startswith(("#", "|", "<")):
            made.append(part)
            continue
        listed = part.startswith("- ")
        made.append(
            "\n".join(
                textwrap.fill(
                    one,
                    WIDTH,
                    subsequent_indent="  " if listed else "",
                    break_long_words=False,
                    break_on_hyphens=False,
                )
                for one in (part.split("\n") if listed else [part])
            )
        )
    return "\n\n".join(made) + "\n"


def _number(value: float, form: str = "{:,.0f}") -> str:
    if not np.isfinite(value):
        return ""
    told = form.format(value)
    return told.removeprefix("-") if not any(digit in "123456789" for digit in told) else told


def _named(place: str) -> str:
    *words, last = place.split("_")
    state = last.upper() if words and len(last) == 2 else last.capitalize()
    return " ".join([*(word.capitalize() for word in words), state])


def _error(
    judged: Judged, name: str, some: Array, what: str = "biomass", form: str = "{:,.0f}"
) -> str:
    wrong = (getattr(judged.answers[name], what) - getattr(judged.measured, what))[some]
    own = judged.weights[some]
    off = _number(root_mean_square(wrong, own), form)
    return f"{off} ({_number(mean(wrong, own), form)})" if off else ""


def _short(judged: Judged) -> str:
    every = np.ones(len(judged.rows), bool)
    lines = []
    for how in ("season left out", "place left out"):
        names = (f"model, {how}", f"{BENT}, {how}", f"{STRAIGHT}, {how}", f"constant, {how}")
        lines.append([how, *(_error(judged, name, every).split(" ")[0] for name in names)])
    return table(["RMSE", "model", BENT, STRAIGHT, "constant"], lines)


def _verdict(judged: Judged) -> str:
    told = []
    for how in ("season left out", "place left out"):
        own, other = (
            root_mean_square(judged.answers[name].biomass - judged.measured.biomass, judged.weights)
            for name in (f"model, {how}", f"{BENT}, {how}")
        )
        percent = 100.0 * (own / other - 1.0)
        word = "farther off than" if percent > 0.0 else "nearer than"
        told.append(f"{abs(percent):.0f} % {word}")
    return (
        f"On a season that neither had seen the model is {told[0]} the regression with logarithms, "
        f"on a place {told[1]} it. Where the model is no nearer than the regression, read its "
        "answer as a direction, not as an amount."
    )


def _levels(judged: Judged) -> str:
    lines = []
    for name, answer in judged.answers.items():
        wrong = answer.biomass - judged.measured.biomass
        lines.append(
            [
                name,
                *(
                    _number(value)
                    for value in (
                        root_mean_square(wrong, judged.weights),
                        mean(wrong, judged.weights),
                        root_mean_square(wrong),
                        mean(wrong),
                    )
                ),
            ]
        )
    header = ["kg/ha", "RMSE by season", "bias by season", "RMSE by row", "bias by row"]
    return table(header, lines)


def _groups(values: Array) -> list[Any]:
    return list(dict.fromkeys(values)) if values.dtype.kind in "OU" else sorted(set(values))


def _by(judged: Judged, group_of: Array, called: Callable[[Any], str], what: str) -> str:
    lines = []
    beside = [f"{BENT}, season left out", f"{BENT}, place left out"]
    for group in _groups(group_of):
        some = group_of == group
        rows = judged.rows[some]
        lines.append(
            [
                called(group),
                str(some.sum()),
                str(rows.groupby(["site", "year"]).ngroups),
                _number(mean(judged.measured.biomass[some], judged.weights[some])),
                *(_error(judged, name, some) for name in (*JUDGED, *beside)),
            ]
        )
    return table(
        [
            what,
            "rows",
            "seasons",
            "mean measured",
            *JUDGED,
            "regression, season left out",
            "regression, place left out",
        ],
        lines,
    )


def _gains(judged: Judged) -> str:
    shown = [
        *JUDGED,
        *(
            f"{name}, {how}"
            for name in (STRAIGHT, BENT)
            for how in ("season left out", "place left out")
        ),
    ]
    lines = []
    for name in shown:
        found = gain_scores(judged.rows, judged.answers[name].biomass)
        lines.append(
            [
                name,
                _number(found["simulated"]),
                _number(found["r"], "{:.2f}"),
                _number(found["rmse"]),
            ]
        )
    pairs = gains(judged.rows)
    seen = pairs["measured"].to_numpy(float)
    warmth = np.array(
        [
            judged.temperatures[first.site][first.sampled : second.sampled].iloc[1:].mean()
            for first, second in (
                (judged.rows.loc[pair.first_row], judged.rows.loc[pair.second])
                for pair in pairs.rename(columns={"first": "first_row"}).itertuples()
            )
        ]
    )
    lines += [
        ["the mean of these gains", _number(mean(seen)), "", _number(spread(seen))],
        ["mean temperature between the two", "", _number(correlation(seen, warmth), "{:.2f}"), ""],
    ]
    told = f"{len(pairs)} pairs, {seen.mean():.0f} kg/ha a day measured on average."
    return f"{told}\n\n{table(['kg/ha a day', 'mean', 'r', 'RMSE'], lines)}"


def _responses(judged: Judged) -> str:
    beside = [f"{BENT}, season left out", f"{BENT}, place left out"]
    lines = []
    for when in ("fall", "spring", "both", "all"):
        scores = [
            response_scores(judged.rows, judged.answers[name].biomass, when)
            for name in (*JUDGED, *beside)
        ]
        one = scores[0]
        lines.append(
            [
                when,
                f"{one['n']:.0f}",
                _number(one["measured"]),
                _number(one["spread"]),
                *(
                    f"{_number(score['rmse'])} ({_number(score['simulated'])}; "
                    f"{_number(score['r'], '{:.2f}')})"
                    for score in scores
                ),
            ]
        )
    told = table(
        [
            "nitrogen in",
            "n",
            "mean measured",
            "spread",
            *JUDGED,
            "regression, season left out",
            "regression, place left out",
        ],
        lines,
    )
    return f"RMSE and, in brackets, the mean response and r.\n\n{told}"


def _nitrogen(judged: Judged, what: str, form: str) -> str:
    seen = getattr(judged.measured, what)
    month = judged.rows["sampled"].dt.month.to_numpy()
    beside = [f"{BENT}, season left out", f"{BENT}, place left out"]
    lines = []
    known = np.isfinite(seen)
    for one in [*sorted(set(month[known])), 0]:
        some = known & ((month == one) | (one == 0))
        lines.append(
            [
                MONTHS[one] or "all",
                str(some.sum()),
                _number(mean(seen[some], judged.weights[some]), form),
                _number(spread(seen[some], judged.weights[some]), form),
                *(_error(judged, name, some, what, form) for name in (*JUDGED, *beside)),
            ]
        )
    return table(
        [
            "month",
            "rows",
            "mean measured",
            "spread",
            *JUDGED,
            "regression, season left out",
            "regression, place left out",
        ],
        lines,
    )


def _stages(
    trials: Trials, left: Mapping[str, calibration.CrossValidation], stages: StageDays
) -> list[str]:
    late = {SHIPPED: stages.late(trials)}
    for name, one in ((SEASON, left["season"]), (PLACE, left["place"])):
        late[name] = np.full(stages.rows.size, np.nan)
        for gone, values in zip(one.gone, one.values, strict=True):
            own = gone[trials.season_of[stages.rows]]
            if own.any():
                late[name][own] = stages.late(trials, values)[own]
    is_wheat = (trials.table["cereal"] == "wheat").to_numpy()
    wheat = is_wheat[stages.rows]
    lines = [
        [f"rye, Zadoks {stage:.0f}", *_late(late, (stages.stages == stage) & ~wheat)]
        for stage in sorted(set(stages.stages[~wheat]))
    ]
    site = trials.table["site"].to_numpy()[stages.rows]
    for stage, word in ((calibration.EMERGED, "emergence"), (calibration.HEADING, "heading")):
        some = wheat & (stages.stages == stage)
        lines.append([f"wheat, {word}", *_late(late, some)])
        lines += [
            [f"wheat, {word}, {one}", *_late(late, some & (site == one))]
            for one in sorted(set(site[some]))
        ]
    header = ["stage", "rows", *JUDGED]
    tillers = np.flatnonzero(
        ~is_wheat & (trials.table["growth_stage_zadoks"] == calibration.TILLERING).to_numpy()
    )
    made = trials.simulate()["growth_stage_zadoks"][tillers]
    low, high = calibration.TILLERS
    heading = wheat & (stages.stages == calibration.HEADING)
    before, after = (made < low).sum(), (made > high).sum()
    return [
        "Simulated minus measured days: RMSE and, in brackets, the mean; above 0 is late. "
        + (
            "Never: not reached by 30 June. "
            if any(np.isnan(days).any() for days in late.values())
            else ""
        )
        + "A stage of rye is the one seen at a sampling, so a stand may have come to it some days "
        "before: the model should be a little early. Weather of Germany is that of the fields; "
        f"soil ({calibration.WHEAT_SOIL} after {calibration.WHEAT_CROP}), seeding and nitrogen "
        "are taken, not told.",
        table(header, lines),
        f"Of {tillers.size} rows seen at tillering (Zadoks 22), {tillers.size - before - after} "
        f"simulated stands are between 20 and 29, {before} are before and {after} beyond. The "
        "mean date of heading, as a constant, would be off by "
        f"{spread(stages.seen[heading].astype(float)):.1f} days.",
    ]


def _late(late: Mapping[str, Array], some: Array) -> list[str]:
    cells = [str(some.sum())]
    for days in late.values():
        own = days[some]
        never = int(np.isnan(own).sum())
        told = f"{_number(root_mean_square(own), '{:.1f}')} ({_number(mean(own), '{:.1f}')})"
        cells.append((told if never < own.size else "") + (f", {never} never" if never else ""))
    return cells


def _about_regression(trials: Trials, judged: Judged) -> str:
    given = yardstick.columns(judged.rows, trials.records)
    lines = [
        [
            name,
            *(
                _number(value, "{:,.4g}")
                for value in yardstick.coefficients(
                    columns, judged.measured.biomass, judged.weights
                )
            ),
        ]
        for name, columns in ((STRAIGHT, given), (BENT, yardstick.bent(given)))
    ]
    return (
        "Ordinary least squares on fall degree days (above 0 degC, by the model's own thermal "
        "time, sowing to 31 December), spring degree days (1 January to sampling), nitrogen of "
        "fall and spring together (kg/ha), and latitude. The one with logarithms takes those of "
        f"the degree days and of nitrogen + {yardstick.NITROGEN_OFFSET:.0f} kg/ha in their place; "
        "of a dozen forms tried on these rows it was the nearest, which flatters it a "
        "little. Each site-season counts once, but where the table says that rows are weighed "
        "alike. It is left out the same two ways as the model. Its growth and its responses are "
        "differences of its answers; nitrogen has regressions of its own on the same columns. "
        "Fitted to all, by season:\n\n" + table(["kg/ha", *yardstick.COLUMNS], lines)
    )


def _freed(trials: Trials, left: Mapping[str, calibration.CrossValidation], fitted: Array) -> str:
    folds = np.concatenate([one.values for one in left.values()])
    lines = [
        [
            f"{one.of}: `{one.name}`" + (", ratio" if one.is_ratio else ""),
            f"{one.begun:.3g}",
            f"{one.start:.3g}",
            f"{value:.3g}",
            f"{low:.3g} to {high:.3g}",
        ]
        for one, value, low, high in zip(
            trials.freed, fitted, folds.min(axis=0), folds.max(axis=0), strict=True
        )
    ]
    return table(["number", "begun at", "shipped", "fitted to all", "with a part left out"], lines)


def history(file: Path = HISTORY) -> list[dict[str, str]]:
    """Read the changes of the model and what this page said after each."""
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def history_table(file: Path = HISTORY) -> str:
    """Lay the history out, between the marks that `renew_history` looks for."""
    header = [
        "date",
        "change",
        "as shipped",
        "season left out",
        "place left out",
        "growth r",
        "growth",
        "response",
        "nitrogen percent",
    ]
    laid = table(header, [[*row.values()] for row in history(file)])
    return f"{HISTORY_BEGINS}\n\n{laid}\n\n{HISTORY_ENDS}"
