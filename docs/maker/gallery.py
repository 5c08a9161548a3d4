"""The gallery of charts: ``python -m docs.maker.gallery`` draws its pictures again.

What draws a picture stands in ``docs/charts.md``: command lines, the last of which ends in
``--chart NAME.svg``, or Python that saves ``NAME.svg``.
"""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from docs.maker.lessons import _elsewhere, _slim
from simulator.commands import fallsown
from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

PAGE = Path(__file__).resolve().parents[1] / "charts.md"
PICTURES = PAGE.parent / "pictures"
PLOTS = """# invented: yes
site,latitude,sown,sampled,nitrogen_fall (lb/acre),biomass (lb/acre),biomass_sd (lb/acre),plots
home,31.6,2004-10-25,2005-04-14,0,3900,500,4
home,31.6,2004-10-25,2005-04-14,60,6100,800,4
home,31.6,2004-12-05,2005-04-14,60,3300,600,4
home,31.6,2009-11-15,2010-04-16,0,2600,450,4
home,31.6,2009-11-15,2010-04-16,60,4600,700,4
home,31.6,2014-10-22,2015-04-10,0,3300,500,4
home,31.6,2014-10-22,2015-04-10,90,7200,900,4
"""


def trial() -> str:
    """Write an invented trial: two sowings by four rates of nitrogen, four blocks, four falls."""
    lines = ["# invented: yes"]
    lines += ["site,latitude,sown,sampled,block,nitrogen_fall (lb/acre),biomass (lb/acre)"]
    for fall, year in enumerate((2004, 2007, 2009, 2014)):
        for block in range(4):
            for late, sown in enumerate(("10-25", "11-20")):
                for step, rate in enumerate((0, 30, 60, 90)):
                    luck = 97 * (7 * fall + 5 * block + 3 * late + 11 * step) % 641 - 320
                    brought = min(rate, 65) * (34 - 9 * fall * late - 4 * fall)
                    mass = 2600 + 240 * fall - 900 * late + 90 * block + brought + luck
                    lines.append(
                        f"home,31.6,{year}-{sown},{year + 1}-04-14,{block + 1},{rate},{mass}"
                    )
    return "\n".join(lines)


_BLOCK = re.compile(r"```(console|python)\n(.*?)```", re.DOTALL)


def blocks() -> dict[str, tuple[str, str]]:
    """Return what draws each picture: its name, and whether it is of the shell or Python."""
    found = {}
    for kind, text in _BLOCK.findall(PAGE.read_text(encoding="utf-8")):
        (name,) = re.findall(r"[\w-]+\.svg", text)
        found[name] = (kind, text.strip())
    return found


def run(kind: str, text: str) -> None:
    """Run one block in the folder that it is in.

    Raises
    ------
    AssertionError
        A command fails.
    """
    if kind == "python":
        exec(compile(text, PAGE.name, "exec"), {})
        return
    for line in text.splitlines():
        result = CliRunner().invoke(fallsown, shlex.split(line)[1:], catch_exceptions=False)
        assert result.exit_code == 0, f"{line}\n{result.stderr}"


def lay_files(folder: Path) -> None:
    """Write the invented plots and station that some commands read."""
    sample = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text(encoding="utf-8")
    (folder / "station.csv").write_text(sample, encoding="utf-8")
    (folder / "plots.csv").write_text(PLOTS, encoding="utf-8")
    (folder / "trial.csv").write_text(trial(), encoding="utf-8")


def renew() -> list[Path]:
    """Draw every picture of the gallery again."""
    PICTURES.mkdir(exist_ok=True)
    made = []
    with _elsewhere() as folder:
        lay_files(folder)
        for name, (kind, text) in blocks().items():
            run(kind, text)
            picture = PICTURES / name
            picture.write_text(_slim((folder / name).read_text("utf-8")), encoding="utf-8")
            made.append(picture)
    return made


if __name__ == "__main__":
    for picture in renew():
        print(f"Drawn: {picture.name}")
