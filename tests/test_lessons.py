"""Lessons and how-tos: every command and line of code in them runs, and no number is stale."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner

from docs.maker import lessons
from simulator.commands import fallsown
from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

DOCS = Path(__file__).resolve().parents[1] / "docs"
HOW_TOS = sorted((DOCS / "how-to").glob("*.md"))
RENEW = "python -m docs.maker lessons"
SCRIPTS = pytest.mark.parametrize("script", lessons.scripts(), ids=lambda script: script.stem)


@pytest.mark.frozen("the pages of the lessons, from the run that made them")
@SCRIPTS
def test_a_lesson_runs_and_its_page_says_what_the_run_says(script: Path) -> None:
    page = lessons.run(script)
    kept = lessons.page_of(script).read_text(encoding="utf-8")
    assert kept == page.text, f"{lessons.page_of(script).name} is behind; run: {RENEW}"
    for name, picture in page.pictures.items():
        drawn = (lessons.PICTURES / name).read_text(encoding="utf-8")
        assert lessons.drawn(drawn) == lessons.drawn(picture), f"{name} is behind; run: {RENEW}"
        assert f"(pictures/{name})" in kept


@SCRIPTS
def test_a_lesson_has_what_a_class_needs(script: Path) -> None:
    page = lessons.page_of(script).read_text(encoding="utf-8")
    parts = [
        "*45 minutes. You need",
        "You will learn",
        "## Words",
        "## Guess",
        "## Questions",
        "<summary>Answers</summary>",
        "</details>",
        "## What to keep in mind",
    ]
    places = [page.rfind(part) for part in parts]
    assert -1 not in places, parts[places.index(-1)]
    assert places == sorted(places)
    asked = page.partition("## Questions")[2].partition("<details")[0]
    answered = page.partition("<summary>Answers</summary>")[2].partition("</details>")[0]
    numbered = [re.findall(r"^(\d)\. ", text, re.MULTILINE) for text in (asked, answered)]
    assert numbered[0] == numbered[1] == [str(n + 1) for n in range(len(numbered[0]))]
    kept_in_mind = page.partition("## What to keep in mind")[2]
    assert "invented" in kept_in_mind
    assert "](../" in kept_in_mind


EXPLAINED = {
    1: ("base temperature", "degree day", "thermal time", "growth stage"),
    2: ("over the falls", "in a field like these", "leached", "c:n", "thermal time"),
    3: (
        "agronomic efficiency",
        "apparent recovery",
        "leached",
        "denitrified",
        "tied up",
        "split",
        "over the falls",
        "in a field like these",
    ),
    4: ("growth stage", "c:n", "tied up", "over the falls", "in a field like these"),
    5: ("c:n", "tied up", "over the falls", "in a field like these"),
    6: (
        "over the falls",
        "share of the falls",
        "in a field like these",
        "chance of the target",
        "interval",
        "exceedance",
        "leached",
    ),
    7: ("plot", "block", "split plot", "standard error", "interval", "p value", "random"),
}


@SCRIPTS
def test_a_word_is_explained_before_it_is_used(script: Path) -> None:
    page = lessons.page_of(script).read_text(encoding="utf-8")
    body = " ".join(page.partition("You will learn")[2].lower().split())
    for word in EXPLAINED[int(script.stem[0])]:
        first = body.find(word)
        assert body[: first + len(word)].endswith(f"**{word}"), word
        assert body.count(word) > 1, f"{word} is explained, and used nowhere"


@SCRIPTS
def test_a_lesson_shows_a_picture_before_many_numbers(script: Path) -> None:
    page = lessons.page_of(script).read_text(encoding="utf-8")
    before = page.partition("](pictures/")[0]
    assert "|---" not in before
    assert all(len(block.splitlines()) < 6 for block in blocks(before, "text"))
    for block in blocks(page, "text"):
        assert len(block.splitlines()) <= 20, f"fills a screen:\n{block}"


@SCRIPTS
def test_a_lesson_asks_once_for_a_guess(script: Path) -> None:
    page = " ".join(lessons.page_of(script).read_text(encoding="utf-8").split())
    asked = "Write down your guess first, then unfold."
    fold = '<details markdown="1"> <summary>'
    assert page.count("## Guess") == page.count(asked) == page.count(f"{asked} {fold}") == 1
    assert page.count(fold) == page.count("</details>") == 2  # its answer, and the answers


def test_lessons_say_of_the_skill_what_its_page_says() -> None:
    # in the scripts themselves no file can be read: cell by cell they do not know where they are
    page = (DOCS / "skill.md").read_text(encoding="utf-8")
    sowing = lessons.scripts()[1].read_text(encoding="utf-8")
    unseen = re.findall(r"^\| season left out \| ([\d,]+) \|", page, re.MULTILINE)
    assert f"unseen = {unseen[0].replace(',', '')}  # kg/ha, of docs/skill.md" in sowing


@pytest.mark.published(
    "Huddell et al. (2024), Scientific Data 11:200: nitrogen in the shoots over that of the same"
    " stand without any, a share of what was given in fall or in spring alone; means by field"
)
def test_lessons_say_of_recovery_what_trials_found(open_data: Path) -> None:
    trials = open_data / "trials"
    rows = pd.concat(
        [pd.read_csv(trials / name) for name in ("rye_trial_means.csv", "rye_trials_wider.csv")]
    )
    rows["taken"] = rows["biomass_kg_ha"] * rows["nitrogen_percent"] / 100.0
    given = rows[["nitrogen_fall_kg_ha", "nitrogen_spring_kg_ha"]].fillna(0.0)
    rows["fall"], rows["spring"] = given.to_numpy().T
    stand = ["site", "sown", "sampled", "seeding_kg_ha"]
    none = rows.loc[(rows["fall"] + rows["spring"]) == 0.0, [*stand, "taken"]]
    pairs = rows.merge(none, on=stand, suffixes=("", "_of_none"))
    recovered = {}
    for when, other in (("fall", "spring"), ("spring", "fall")):
        fed = pairs[(pairs[when] > 0.0) & (pairs[other] == 0.0)]
        share = 100.0 * (fed["taken"] - fed["taken_of_none"]) / fed[when]
        recovered[when] = share.groupby(fed["site"]).mean()
    fall, spring = recovered["fall"], recovered["spring"]
    said = " ".join(lessons.scripts()[2].read_text(encoding="utf-8").replace("\n#", "").split())
    assert len(fall) == 4
    assert f"four fields of open trials recovered {fall.min():.0f} to {fall.max():.0f} perc" in said
    assert f"{spring['rock_springs_pa']:.0f} percent of it at Rock Springs" in said
    assert f"but {spring['headland']:.0f} at Headland in Alabama" in said


def test_every_picture_belongs_to_a_lesson() -> None:
    shown = {
        name
        for script in lessons.scripts()
        for name in re.findall(r"\]\(pictures/([^)]+)\)", lessons.page_of(script).read_text())
    }
    assert shown == {path.name for path in lessons.PICTURES.iterdir()}
    assert all(path.stat().st_size < 120_000 for path in lessons.PICTURES.iterdir())


def made_from(tmp_path: Path, text: str) -> str:
    script = tmp_path / "lesson.py"
    script.write_text(text, encoding="utf-8")
    return lessons.run(script).text


def test_numbers_in_the_text_come_from_the_cells_above(tmp_path: Path) -> None:
    text = "# %% [check]\nmass = 1234.5\n# %% [markdown]\n# It makes {mass:,.0f} lb/ac.\n"
    assert made_from(tmp_path, text) == "It makes 1,234 lb/ac.\n"
    assert "It makes 99" in made_from(tmp_path, text.replace("1234.5", "99.0"))


def test_code_is_shown_with_what_it_prints_and_checks_are_not(tmp_path: Path) -> None:
    made = made_from(tmp_path, "# %%\nprint(1 + 1)\n# %% [check]\nprint('unseen')\n")
    assert made == "```python\nprint(1 + 1)\n```\n\n```text\n2\n```\n"


def test_a_command_is_run_and_the_wanted_paragraphs_kept(tmp_path: Path) -> None:
    line = 'fallsown degreedays --base "40 degF" --years 2015'
    whole = made_from(tmp_path, f"# %% [command]\n# {line}\n")
    part = made_from(tmp_path, f"# %% [command]\n# {line}\n# shown: Above | A target\n")
    assert line in whole
    assert "single sine" in part  # the table that "Above 40 degF:" announces
    assert "Keep in mind" in whole
    assert "Keep in mind" not in part
    assert len(part) < len(whole)


def test_a_picture_stands_before_the_sentences_wanted(tmp_path: Path) -> None:
    line = 'fallsown degreedays --base "32,40 degF" --years 2015 --chart heat.svg'
    made = made_from(tmp_path, f"# %% [command]\n# {line}\n# picture: Heat\n# shown: above 40\n")
    shown = made.partition("![Heat](pictures/heat.svg)\n\n")[2]
    assert shown.startswith("```text\nFrom ") and "above 40 °F, the methods lie" in shown
    assert "above 32" not in shown and "A target" not in shown and "----" not in shown
    with pytest.raises(AssertionError, match="draws no picture"):
        made_from(tmp_path, "# %% [command]\n# fallsown samples\n# picture: Heat\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("# %% [check]\nassert 2 < 1, 'later makes less'\n", "later makes less"),
        ("# %% [command]\n# fallsown season --year 1066\n", "1066"),
        ("# %% [command]\n# fallsown samples\n# shown: Camelot\n", "'Camelot' is not in"),
        ("# %% [markdown]\nno comment\n", "does not begin with"),
    ],
)
def test_what_does_not_hold_makes_no_page(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(AssertionError, match=said):
        made_from(tmp_path, text)


def test_charts_are_compared_by_what_they_say() -> None:
    said = [
        f'<g aria-label="biomass (lb/ac): {number}" transform="translate(1,2)"/>'
        for number in ("5242.30001", "5242.3", "5312.0")
    ]
    assert lessons.drawn(said[0]) == lessons.drawn(said[1]) != lessons.drawn(said[2])


def blocks(page: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", page, re.MULTILINE | re.DOTALL)


def example_files(page: str, folder: Path) -> None:
    """Lay the files that a how-to shows whole, and the station that it speaks of."""
    for name, _, text in re.findall(
        r"^`([\w./-]+)`:\n\n```(\w+)\n(.*?)^```", page, re.MULTILINE | re.DOTALL
    ):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    sample = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text(encoding="utf-8")
    rows = [row for row in sample.splitlines(keepends=True) if not row.startswith("#")]
    for station in ("station.csv", "stations/home.csv", "stations/river.csv"):
        if (folder / station).parent.exists():
            (folder / station).write_text("".join(rows), encoding="utf-8")


@pytest.mark.long
@pytest.mark.parametrize("path", HOW_TOS, ids=lambda path: path.stem)
def test_a_how_to_runs_as_it_stands(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = path.read_text(encoding="utf-8")
    example_files(page, tmp_path)
    monkeypatch.chdir(tmp_path)
    commands = [line for block in blocks(page, "console") for line in block.splitlines()]
    code = blocks(page, "python")
    assert commands or code
    for line in commands:
        words = shlex.split(line)
        assert words[0] == "fallsown", line
        result = CliRunner().invoke(fallsown, words[1:], catch_exceptions=False)
        assert result.exit_code == 0, f"{line}\n{result.stderr}"
    made: dict[str, Any] = {}
    for block in code:
        exec(compile(block, path.name, "exec"), made)
