"""The fields of rows, as the commands themselves give them: run on few falls, and asked."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import xarray as xr
from click.testing import CliRunner

from docs.maker.tables import table
from simulator.commands import fallsown
from simulator.season.day.record import RECORD
from simulator.show.output import _LABELS as LABELS
from simulator.show.output import ROW_VARIABLES
from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

# each command as cheap as it can be: its fields do not hang on how much it is asked
ASKED = {
    "season": "--year 2015",
    "compare": "--years 2015 --sow 10-20 --nitrogen '0 lb/acre'",
    "whatif": "--years 2015 --sow 10-20 --nitrogen '0 lb/acre'",
    "degreedays": "--years 2015",
    "response": "--years 2010:2015 --sow 10-20",
    "budget": "--years 2010:2015",
    "timing": "--years 2010:2015",
    "cover": "--years 2010:2011 --days 14",
    "risk": "--years 2010:2015 --sow 10-20 --nitrogen '0 lb/acre'",
    "outlook": "--years 2010:2015",
    "why": "--years 2005:2011 --year 2009",
    "sensitivity": "--years 2015 --samples 8 --only phyllochron,vernal_half",
    "plots": "--plots trial.csv",
    "design": "--years 2010:2015 --trials 100 --sow 10-20 --seeding '90 lb/acre'",
    "agree": "--plots plots.csv --weather home=station.csv",
}
WITHOUT = (
    "sheet",
    "fit",
    "field",
    "check",
    "samples",
    "page",
    "generate",
)  # write no rows of seasons
PLOTS = """site,latitude,sown,sampled,nitrogen_fall (lb/acre),biomass (lb/acre)
home,31.6,2004-10-25,2005-04-14,0,3100
home,31.6,2009-11-15,2010-04-16,60,4600
"""  # invented
TRIAL = """site,sown,sampled,block,seeding (lb/acre),nitrogen_fall (lb/acre),biomass (lb/acre)
home,2004-10-25,2005-04-14,1,60,0,3100
home,2004-10-25,2005-04-14,1,90,60,4700
home,2004-10-25,2005-04-14,2,60,0,2900
home,2004-10-25,2005-04-14,2,90,60,4300
home,2004-11-25,2005-04-14,1,60,0,2100
home,2004-11-25,2005-04-14,2,60,0,2300
"""  # invented

# labels of rows that carry no meaning of their own
SAID = {
    "residue": "how the residue lies: standing, flat, rolled, buried",
    "kind": "kind of year, or all falls",
    "as_of": "last day whose weather is known",
    "month": "month of the season, or what of it lies in it",
    "outcome": "what is looked at: biomass, nitrate leached, nitrogen response",
    "of": "kind of set that the parameter belongs to",
    "parameter": "name of the parameter",
    "unit": "its unit",
    "default": "its value where nothing is changed",
    "low": "lower end of the range tried",
    "high": "upper end of the range tried",
    "first": "Sobol index of first order: share of the variance by it alone",
    "first_low": "lower end of its interval",
    "first_high": "upper end of its interval",
    "total": "total Sobol index: by it alone and with others",
    "total_low": "lower end of its interval",
    "total_high": "upper end of its interval",
}


class Field(NamedTuple):
    """A field of a row."""

    name: str
    unit: str
    meaning: str


def fields_of(command: str) -> list[Field]:
    """Run a command and list the fields of its rows.

    Raises
    ------
    AssertionError
        The command fails, or has a field that nothing explains.
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        sample = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text(encoding="utf-8")
        rows = [row for row in sample.splitlines(keepends=True) if not row.startswith("#")]
        (folder / "station.csv").write_text("".join(rows), encoding="utf-8")
        (folder / "plots.csv").write_text(PLOTS, encoding="utf-8")
        (folder / "trial.csv").write_text(TRIAL, encoding="utf-8")
        asked = ASKED[command]
        for file in ("station.csv", "plots.csv", "trial.csv"):
            asked = asked.replace(file, str(folder / file))
        out = folder / "out.nc"
        words = [command, *shlex.split(asked), "--json", "--out", str(out)]
        result = CliRunner().invoke(fallsown, words, catch_exceptions=False)
        assert result.exit_code == 0, f"{command}: {result.stderr}"
        answer = json.loads(result.stdout)
        with xr.open_dataset(out, decode_times=False) as data:
            meanings = {str(n): str(data[n].attrs.get("long_name", "")) for n in data.variables}
    known = {name: Field(name, unit, meaning) for name, unit, meaning in RECORD}
    known |= {name: Field(name, unit, meaning) for name, (unit, meaning) in LABELS.items()}
    found = []
    for name in answer["rows"][0]:
        meaning = meanings.get(name) or SAID.get(name, "")
        unit = answer["units"].get(name, "")
        field = known.get(name, Field(name, unit, meaning))
        assert field.meaning, f"{command}: nothing says what '{name}' is"
        found.append(field)
    return found


def fields_page() -> str:
    """Write the page: labels, what a season gives, then what each command adds."""
    labels = [Field(name, unit, meaning) for name, (unit, meaning) in LABELS.items()]
    seasons = [Field(*row) for row in RECORD if row[0] in ROW_VARIABLES]
    days = [Field(*row) for row in RECORD if row[0] not in ROW_VARIABLES]
    told = {field.name for field in (*labels, *seasons, *days)}
    parts = [
        "# Fields of a row",
        "`--json` and `--out` give rows with these names, always in SI; `1` is a number without "
        "a unit,\nand an empty unit marks a label. Sums run from September 1 unless it says from "
        "sowing.",
        "## What a row is of",
        _table(labels),
        "## What a season gives",
        _table(seasons),
        "## What `season` and the Python functions give beside them",
        _table(days),
    ]
    for command in ASKED:
        more = [field for field in fields_of(command) if field.name not in told]
        if more:
            parts += [f"## What `{command}` adds", _table(more)]
    return "\n\n".join(parts)


def _table(fields: list[Field]) -> str:
    return table(
        ["field", "unit", "meaning"],
        [[f"`{field.name}`", field.unit, field.meaning] for field in fields],
    )
