"""The packaged sample weather: six invented places in contrasting climates, thirty falls each.

``python -m simulator.weather.samples FOLDER`` writes every sample's CSV file again from the
climatology (TOML) beside it.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from simulator.problems import fault

if TYPE_CHECKING:
    import xarray as xr

DEFAULT_SAMPLE = "tallow-bend"
FIRST_FALL = 1995
FALLS = 30


@dataclass(frozen=True, slots=True)
class Sample:
    """One packaged sample.

    Parameters
    ----------
    name : str
        What ``--weather`` takes; also the name of its files.
    place : str
        Name of the invented place.
    climate : str
        What its weather is like, as a sentence.
    latitude : float
        Degrees north.
    units_shown : str
        ``"us"`` or ``"si"``: the units that people of the place use.
    seed : int
        Seed of the generator.
    """

    name: str
    place: str
    climate: str
    latitude: float
    units_shown: Literal["us", "si"]
    seed: int


_SAMPLES = (
    Sample("tallow-bend", "Tallow Bend",
           "Mild wet winters and hot humid summers on a warm coastal plain.", 31.6, "us", 2),
    Sample("sorrel-ledge", "Sorrel Ledge",
           "Mild winters with cool dry falls, wetter from midwinter on, in a low upland.",
           33.8, "us", 3),
    Sample("hollin-reach", "Hollin Reach",
           "Cold snowy winters and warm summers in the middle of a continent.", 45.0, "us", 4),
    Sample("pellow-strand", "Pellow Strand",
           "Maritime: rain all winter, cool springs and mild summers.", 50.2, "si", 5),
    Sample("quiver-flats", "Quiver Flats",
           "Dry high plains: a wide daily range, little winter rain, cold snaps.",
           39.0, "us", 6),
    Sample("palmetto-wick", "Palmetto Wick",
           "Hot and subtropical: little chill, a dry fall and spring, rain in summer.",
           29.0, "us", 7),
)  # fmt: skip


def samples() -> dict[str, Sample]:
    """Return the packaged samples by name, the default first."""
    return {sample.name: sample for sample in _SAMPLES}


def samples_folder() -> Path:
    """Return the folder of the sample files: inside an installed package, or in a checkout."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "weather-samples"
    return installed if installed.is_dir() else package.parent / "weather-samples"


def find_sample(name: str) -> Sample:
    """Find a sample by its name, in any case, with hyphens, underscores or blanks.

    Raises
    ------
    InputError
        There is no such sample; the message lists them.
    """
    plain = "-".join(name.casefold().replace("_", " ").replace("-", " ").split())
    known = samples()
    if plain not in known:
        raise fault("sample", f"There is no sample weather '{name[:80]}'.",
                    f"Choose one of {', '.join(known)}.")  # fmt: skip
    return known[plain]


def sample_weather(name: str | None = None) -> xr.Dataset:
    """Daily weather of a packaged sample; the places are invented.

    Parameters
    ----------
    name : str, optional
        One of `samples`, in any case (``"tallow-bend"``, ``"Tallow Bend"``); without it the
        default sample, `DEFAULT_SAMPLE`.

    Returns
    -------
    Dataset, dimension time
        tmax, tmin [degC], rain [mm], 1 August 1995 to 31 July 2025: the falls of 1995 to 2024.
        attrs as every record has, with ``invented`` = ``"yes"``, and ``units_shown``.

    Raises
    ------
    InputError
        There is no such sample, or its file is missing from the installation.

    Examples
    --------
    >>> record = sample_weather("Hollin Reach")
    >>> record.attrs["site"], record.attrs["invented"], record.sizes["time"]
    ('Hollin Reach', 'yes', 10958)
    """
    import pandas as pd

    from simulator.weather.record import make_record

    sample = find_sample(DEFAULT_SAMPLE if name is None else name)
    path = samples_folder() / f"{sample.name}.csv"
    if not path.is_file():
        raise fault(f"sample '{sample.name}'", f"Its file {path} is missing.",
                    "Install fallsown again.")  # fmt: skip
    about: dict[str, str] = {}
    with path.open(encoding="utf-8") as file:
        while (line := file.readline()).startswith("#"):
            key, _, text = line[1:].partition(":")
            about[key.strip()] = text.strip()
    table = pd.read_csv(path, comment="#", index_col="date", parse_dates=["date"])
    record = make_record(
        table.index.to_numpy(),
        table["tmax (degC)"],
        table["tmin (degC)"],
        table["rain (mm)"],
        site=about["site"],
        latitude=float(about["latitude"]),
        longitude=float(about["longitude"]),
        source=f"sample {sample.name}: {about['source']}",
        invented=about["invented"],
    )
    return record.assign_attrs(units_shown=sample.units_shown)


def sample_text(sample: Sample, folder: Path) -> str:
    """Generate one sample from its climatology in `folder`, as the text of its CSV file."""
    from simulator.weather.climatology import read_climatology
    from simulator.weather.generator import generate

    record = generate(
        read_climatology(folder / f"{sample.name}.toml"), FALLS, FIRST_FALL, sample.seed
    )
    head = (
        f"# site: {record.attrs['site']}\n"
        f"# latitude: {record.attrs['latitude']}\n"
        f"# longitude: {record.attrs['longitude']}\n"
        "# invented: yes\n"
        "# source: generated by fallsown's weather generator from the climatology beside this "
        f"file, seed {sample.seed}\n"
        "date,tmax (degC),tmin (degC),rain (mm)\n"
    )
    days = record["time"].to_numpy().astype("datetime64[D]")
    # adding zero turns -0.0 into 0.0
    columns = [record[name].to_numpy().round(1) + 0.0 for name in ("tmax", "tmin", "rain")]
    return head + "".join(
        f"{day},{tmax:.1f},{tmin:.1f},{rain:.1f}\n"
        for day, tmax, tmin, rain in zip(days, *columns, strict=True)
    )


def make_samples(folder: Path) -> list[Path]:
    """Write every sample's CSV file into the folder that holds the climatologies.

    Parameters
    ----------
    folder : Path
        Holds ``<name>.toml`` for each of `samples`.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        A climatology is missing or faulty; nothing is written then.
    """
    texts = {folder / f"{sample.name}.csv": sample_text(sample, folder) for sample in _SAMPLES}
    for path, text in texts.items():
        path.write_text(text, encoding="utf-8", newline="\n")
    return list(texts)


if __name__ == "__main__":
    for written in make_samples(Path(sys.argv[1]) if len(sys.argv) > 1 else samples_folder()):
        print(written)
