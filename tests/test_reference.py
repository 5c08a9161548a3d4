"""Reference, glossary and site: as the code is, with links that hold, read without a network."""

from __future__ import annotations

import ast
import re
import sys
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import click
import pytest

import simulator
from docs.maker import __main__ as maker
from docs.maker import docstrings, fields, reference, site
from simulator import units
from simulator.commands import fallsown
from simulator.parameters.describe import SETS
from simulator.season.day.record import RECORD
from simulator.show import output

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
RENEW = "python -m docs.maker reference"
WRITTEN_BY_THE_TEST_RUN = "outside-checks.md"


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return reference.pages()


def test_the_reference_is_what_the_code_says(made: dict[str, str]) -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in reference.FOLDER.glob("*.md")}
    behind = sorted(name for name in made.keys() | kept.keys() if made.get(name) != kept.get(name))
    assert not behind, f"{', '.join(behind)} behind the code; run: {RENEW}"


@pytest.mark.parametrize("room", reference.ROOMS)
def test_every_public_function_and_class_of_a_room_has_its_entry(
    room: str, made: dict[str, str]
) -> None:
    # from the text of the files, not from what the maker imports
    missing = []
    for path in (ROOT / "simulator" / room).rglob("[a-z]*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            public = isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name[0] != "_"
            if public and f"\n### `{node.name}`\n" not in made[f"{room}.md"]:
                missing.append(f"{path.stem}.{node.name}")
    assert not missing, f"behind the code; run: {RENEW}"


def test_every_public_name_is_in_the_reference(made: dict[str, str]) -> None:
    told = re.findall(r"^### `(\w+)`$", made["python.md"], re.MULTILINE)
    assert told == list(simulator.__all__)


def test_every_option_of_every_command_is_in_the_reference(made: dict[str, str]) -> None:
    page = made["commands.md"]
    for name in fallsown.list_commands(click.Context(fallsown)):
        section = page.partition(f"## `fallsown {name}`\n")[2].partition("\n## ")[0]
        command = fallsown.get_command(click.Context(fallsown), name)
        assert section
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not parameter.hidden:
                assert f"`{parameter.opts[0]}" in section, f"{name} {parameter.opts[0]}"


def test_an_entry_keeps_what_a_docstring_says() -> None:
    def leach(amount: float, *, drained: float = 0.5) -> float:
        """Nitrogen washed out of a layer.

        Parameters
        ----------
        amount : float
            What is there [kg/ha],
            all of it nitrate.
        drained : float
            Water a_b * c.

        Returns
        -------
        float
            [kg/ha].

        Raises
        ------
        InputError
            Less than nothing.

        References
        ----------
        Somebody (1990).
        """
        return amount * drained

    entry = docstrings.entry("leach", leach)
    for part in (
        "### `leach`",
        "leach(amount, *, drained=0.5)",
        "Nitrogen washed out of a layer.",
        "- `amount` (float): What is there [kg/ha], all of it nitrate.",
        r"- `drained` (float): Water a\_b \* c.",
        "- `float`: [kg/ha].",
        "- `InputError`: Less than nothing.",
        "Somebody (1990).",
    ):
        assert part in entry


def test_every_field_of_a_row_has_its_unit_and_meaning(made: dict[str, str]) -> None:
    rows = dict(cells[:2] for cells in rows_of(made["fields.md"]))
    for name, unit, _ in RECORD:
        assert rows[f"`{name}`"] == unit
    assert {f"`{name}`" for name in output.ROW_VARIABLES} < rows.keys()
    assert all(meaning for _, _, meaning in (cells[:3] for cells in rows_of(made["fields.md"])))


def test_every_command_has_its_fields_or_none() -> None:
    commands = fallsown.list_commands(click.Context(fallsown))
    assert sorted([*fields.ASKED, *fields.WITHOUT]) == sorted(commands)


def rows_of(page: str) -> list[list[str]]:
    tables = [line for line in page.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]] for line in tables]


def glossary() -> tuple[list[list[str]], list[list[str]]]:
    page = (DOCS / "glossary.md").read_text(encoding="utf-8")
    terms, _, written = page.partition("## Units")
    return rows_of(terms)[1:], rows_of(written)[1:]


def test_the_glossary_has_every_field_of_the_record_and_only_what_there_is(
    made: dict[str, str],
) -> None:
    terms, _ = glossary()
    named = {name for *_, where in terms for name in re.findall(r"`(\w+)`", where)}
    assert {name for name, _, _ in RECORD} <= named
    of_rows = {cells[0].strip("`") for cells in rows_of(made["fields.md"])}
    parameters = {key for sets in SETS.values() for key in next(iter(sets.values())).specs()}
    assert named <= of_rows | parameters


def test_glossary_units_are_those_of_the_fields_and_of_the_tables() -> None:
    terms, _ = glossary()
    of_field = {name: unit for name, unit, _ in RECORD}
    shown = {units.label(kind, "si"): units.label(kind, "us") for kind in units.SHOWN}
    spelt = {"degC": "°C", "degC d": "°C d", "m-2": "1/m²"}
    for term, _, si, us, where in terms:
        for name in re.findall(r"`(\w+)`", where):
            unit = spelt.get(of_field.get(name, ""), of_field.get(name))
            dimensionless = unit == "1" and (si in ("1", "m²/m²", "kg/ha"))  # kg/ha: frost kill
            assert unit is None or unit in si or dimensionless or si == "percent", (term, name)
        for one, other in zip(si.split(", "), us.split(", "), strict=True):
            assert shown.get(one, other) == other, term
    assert [term for term, *_ in terms] == sorted((term for term, *_ in terms), key=str.casefold)
    assert all(meaning.endswith(".") and meaning.count(". ") == 0 for _, meaning, *_ in terms)


def test_the_glossary_explains_every_unit_of_fields_and_parameters() -> None:
    _, written = glossary()
    explained = {cells[0].strip("`") for cells in written}
    used = {unit for _, unit, _ in RECORD}
    used |= {
        spec.unit for sets in SETS.values() for spec in next(iter(sets.values())).specs().values()
    }
    assert used <= explained


@pytest.mark.other_program("Pint 0.24 or later")
@pytest.mark.parametrize(
    ("written", "si", "us"),
    [
        ("kg/ha", "kg/ha", "lb/acre"),
        ("t m-3", "t/m^3", "lb/ft^3"),
        ("ha kg-1", "ha/kg", "acre/lb"),
        ("g", "g", "oz"),
        ("g MJ-1", "g/MJ", "lb/Btu/1e6"),
        ("m-2", "1/m^2", "1/ft^2"),
        ("m2 kg-1", "m^2/kg", "ft^2/lb"),
        ("cm2", "cm^2", "inch^2"),
        ("cm", "cm", "inch"),
        ("mm", "mm", "inch"),
        ("mm degC-1 d-1", "mm/delta_degC", "inch/delta_degF"),
        ("degC d", "delta_degC", "delta_degF"),
        ("degC-1 d-1", "1/delta_degC", "1/delta_degF"),
    ],
)
def test_units_of_the_glossary_convert_as_it_says(written: str, si: str, us: str) -> None:
    (told,) = [cells[2] for cells in glossary()[1] if cells[0] == f"`{written}`"]
    number = re.match(r"[\d.,]+", told)[0].replace(",", "")
    scale = 1e6 if us.endswith("/1e6") else 1.0
    value = units.registry().Quantity(1.0, si).to(us.removesuffix("/1e6")).magnitude * scale
    digits = len(number.lstrip("0.").replace(".", ""))
    assert f"{float(f'{value:.{digits}g}'):g}" == f"{float(number):g}"


def anchor(heading: str) -> str:
    return re.sub(r"[^\w -]", "", heading.lower()).strip().replace(" ", "-")


@pytest.mark.parametrize("page", site.pages(), ids=str)
def test_links_of_the_plain_pages_lead_somewhere(page: Path) -> None:
    for file, heading in site.links(page):
        if file.endswith(WRITTEN_BY_THE_TEST_RUN):
            continue
        target = (ROOT / page).parent / file if file else ROOT / page
        assert target.exists(), f"{page} links to {file}"
        if heading:
            text = target.read_text(encoding="utf-8")
            headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
            assert heading in {anchor(one) for one in headings}, f"{page} links to {file}#{heading}"


def test_the_index_leads_to_every_page_of_its_folder() -> None:
    linked = {file for file, _ in site.links(Path("docs/README.md"))}
    pages = {page.name for page in site.pages() if page.parent == Path("docs")}
    assert pages - {"README.md", WRITTEN_BY_THE_TEST_RUN} <= linked, "name them in docs/README.md"


class Links(HTMLParser):
    """What a built page loads or links to, and its anchors."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.targets: list[tuple[str, str]] = []
        self.anchors: set[str] = set()
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ("href", "src") and value:
                self.targets.append((tag, value))
            if name == "id" and value:
                self.anchors.add(value)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("material", reason="the site is built with the extra 'docs'")
    folder = tmp_path_factory.mktemp("site")
    site.build(folder)
    return folder


def test_every_page_is_in_the_site(built: Path) -> None:
    for page in site.pages():
        name = "index.html" if page.name == "README.md" else f"{page.stem}.html"
        assert (built / page.parent / name).is_file(), page


def test_the_site_asks_the_network_for_nothing(built: Path) -> None:
    for page in built.rglob("*.html"):
        for tag, target in Links(page).targets:
            outside = re.match(r"(https?:)?//", target)
            assert not outside or tag == "a", f"{page.name}: {target}"
    for sheet in built.rglob("*.css"):
        assert not re.search(r"url\([\"']?(https?:)?//|@import", sheet.read_text()), sheet.name


def test_links_of_the_site_lead_somewhere(built: Path) -> None:
    pages = {page: Links(page) for page in built.rglob("*.html")}
    for page, found in pages.items():
        for tag, target in found.targets:
            file, _, heading = unquote(target).partition("#")
            if re.match(r"[a-z]+:", file):
                continue
            place = (page.parent / file).resolve() if file else page
            assert place.exists(), f"{page.name}: {tag} {target}"
            if heading and place in pages:
                assert heading in pages[place].anchors | {"__consent"}, f"{page.name}: {target}"


def test_what_cannot_be_made_is_said() -> None:
    with pytest.raises(SystemExit, match="nothing called 'poetry'"):
        maker.main(["poetry"])


def test_without_its_extra_the_site_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mkdocs.commands.build", None)
    with pytest.raises(SystemExit, match=r"\.\[docs\]"):
        maker.main(["site"])


def test_a_site_with_a_broken_link_is_not_built(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("material", reason="the site is built with the extra 'docs'")
    gather = site.gather

    def spoilt(folder: Path) -> None:
        gather(folder)
        (folder / "README.md").write_text("# Start\n\n[gone](nowhere.md)\n", encoding="utf-8")

    monkeypatch.setattr(site, "gather", spoilt)
    with pytest.raises(ValueError, match=r"nowhere\.md"):
        site.build(tmp_path)
