"""Charts: what they draw, in the reader's units, as files that ask the network for nothing."""

from __future__ import annotations

import re
import struct
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from simulator.answers.agree import chart as agreement_chart
from simulator.problems import InputError
from simulator.show import charts

HEADLINE, BELOW = ["Simulated biomass is off by 500 lb/ac"], ["The data are invented."]
ROWS: list[charts.Row] = [
    {
        "line": n + 2,
        "site": site,
        "year": year,
        "sown": sown,
        "nitrogen_kg_ha": nitrogen,
        "observed_kg_ha": observed,
        "observed_sd_kg_ha": sd,
        "simulated_kg_ha": simulated,
    }
    for n, (site, year, sown, nitrogen, observed, sd, simulated) in enumerate(
        [
            ("hollow", 2005, "2005-11-19", 0.0, 2600.0, 900.0, 2800.0),
            ("hollow", 2005, "2005-11-19", 34.0, 4355.0, None, 3600.0),
            ("hollow", 2005, "2005-11-19", 67.0, 4400.0, 800.0, 3650.0),
            ("ridge", 2003, "2004-01-05", 34.0, 800.0, 1000.0, 1500.0),
        ]
    )
]


@cache  # read by many tests, changed by none
def usual_spec(system: Any) -> dict[str, Any]:
    return agreement_chart.chart(ROWS, system, HEADLINE, BELOW).to_dict()


def spec(rows: list[charts.Row] = ROWS, system: Any = "us") -> dict[str, Any]:
    if rows is ROWS:
        return usual_spec(system)
    return agreement_chart.chart(rows, system, HEADLINE, BELOW).to_dict()


def values_of(made: dict[str, Any], panel: int = 0) -> list[dict[str, Any]]:
    """Return the rows behind the points of a panel at the top."""
    drawn = made["concat"][panel]
    return made["datasets"][drawn["layer"][-1].get("data", drawn.get("data"))["name"]]


@pytest.mark.published("NIST SP 811, appendix B.8: lb 0.45359237 kg, US survey acre 4046.87261 m2")
def test_points_are_in_the_readers_units() -> None:
    first = values_of(spec())[0]
    assert first["observed"] == pytest.approx(2600 / 1.120846673, rel=5e-10)
    assert first["miss"] == pytest.approx(200 / 1.120846673, rel=5e-8)
    assert values_of(spec(system="si"))[0]["observed"] == pytest.approx(2600.0, rel=1e-12)


def test_bars_are_one_deviation_and_never_below_nothing() -> None:
    drawn = values_of(spec(system="si"))
    assert (drawn[0]["low"], drawn[0]["high"]) == pytest.approx((1700.0, 3500.0))
    assert drawn[1]["low"] == drawn[1]["high"] == drawn[1]["observed"]  # not known: no bar
    assert drawn[3]["low"] == 0.0


@pytest.mark.published("NIST SP 811, appendix B.8: lb 0.45359237 kg, US survey acre 4046.87261 m2")
def test_the_field_band_lies_under_the_points() -> None:
    band = [
        {"simulated_kg_ha": made, "field_low_kg_ha": made / 2, "field_high_kg_ha": 2 * made}
        for made in (0.0, 3000.0)
    ]
    made = agreement_chart.chart(ROWS, "us", HEADLINE, BELOW, band=band).to_dict()
    area, *others = made["concat"][0]["layer"]
    assert area["mark"]["type"] == "area" and area["mark"]["clip"]
    assert len(others) == len(spec()["concat"][0]["layer"])  # without a band nothing is shaded
    ends = made["datasets"][area["data"]["name"]][1]
    assert [ends[name] * 1.120846673 for name in ("simulated", "observed", "field_high")] == (
        pytest.approx([3000.0, 1500.0, 6000.0], rel=5e-8)
    )
    assert area["encoding"]["x2"]["field"] == "field_high"
    assert values_of(made)[0]["observed"] == values_of(spec())[0]["observed"]


@pytest.mark.analytic("the root mean square of 200, -755, -750 and 700 kg/ha")
def test_how_far_off_is_shaded_about_nothing() -> None:
    made = spec(system="si")
    off = (sum(miss**2 for miss in (200.0, 755.0, 750.0, 700.0)) / 4) ** 0.5
    for panel in made["concat"][1:4]:
        first = panel["layer"][0]
        (ends,) = made["datasets"][first["data"]["name"]]
        assert (ends["miss"], ends["high"]) == pytest.approx((-off, off))


def test_axes_have_their_units_and_titles_their_words() -> None:
    for system, unit in (("us", "lb/ac"), ("si", "kg/ha")):
        text = str(spec(system=system))
        for title in (
            "observed biomass",
            "simulated biomass",
            "simulated less observed",
            "nitrogen applied, fall and spring",
        ):
            assert f"{title} ({unit})" in text
    assert spec()["title"]["text"] == HEADLINE and spec()["title"]["subtitle"] == BELOW


def test_sites_differ_in_colour_and_in_shape() -> None:
    many = [{**ROWS[0], "site": f"site {n}", "line": n} for n in range(20)]
    encoding = spec(many)["concat"][0]["layer"][-1]["encoding"]
    looks = list(
        zip(encoding["color"]["scale"]["range"], encoding["shape"]["scale"]["range"], strict=True)
    )
    assert len(set(looks)) == 20


def test_points_of_a_season_that_would_hide_each_other_lie_side_by_side() -> None:
    rows = values_of(spec(), panel=1)
    together = [row for row in rows if row["row"] in ("row 3", "row 4")]
    assert abs(together[0]["shift"] - together[1]["shift"]) >= agreement_chart.POINT
    assert next(row for row in rows if row["row"] == "row 2")["shift"] == 0.0


def test_points_stay_in_the_band_of_their_season() -> None:
    many = [{**ROWS[0], "line": n, "year": 1990 + n % 20} for n in range(200)]
    band = agreement_chart.PANEL / 20
    assert all(abs(row["shift"]) <= band / 2 for row in values_of(spec(many), panel=1))


def test_seasons_share_a_calendar() -> None:
    drawn = values_of(spec())
    assert drawn[0]["sown"] == "2000-11-19T00:00:00"
    assert drawn[3]["sown"] == "2001-01-05T00:00:00"
    assert drawn[3]["season"] == "2003-04"


@pytest.mark.published("NIST SP 811, appendix B.8: lb 0.45359237 kg, US survey acre 4046.87261 m2")
def test_growth_and_responses_have_panels_where_there_are_five() -> None:
    grown = [
        {
            **ROWS[n % 3],
            "line": n,
            "observed_gain_kg_ha_day": 50.0 + n,
            "simulated_gain_kg_ha_day": 90.0 - n,
        }
        for n in range(5)
    ]
    assert len(spec(grown[:4])["concat"]) == len(spec()["concat"]) == 4
    made = spec([ROWS[3], *grown])
    assert len(made["concat"]) == 5
    assert values_of(made, panel=4)[0]["observed_gain"] == pytest.approx(
        50 / 1.120846673, rel=5e-10
    )
    assert "simulated growth (lb/ac a day)" in str(made["concat"][4])
    # a site looks the same in both panels, though the first site has no growth
    first, grew = (made["concat"][at]["layer"][-1]["encoding"] for at in (0, 4))
    assert grew["color"]["scale"] == first["color"]["scale"]
    assert grew["shape"]["scale"] == first["shape"]["scale"]


@pytest.mark.parametrize("suffix", charts.SUFFIXES)
def test_files(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"chart{suffix}"
    charts.write_chart(agreement_chart.chart(ROWS, "us", HEADLINE, BELOW), path, title="a chart")
    data = path.read_bytes()
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
    if suffix == ".svg":
        assert data.startswith(b"<svg") and b"off by 500 lb/ac" in data
        assert b">hollow</text>" in data and b">ridge</text>" in data
    elif suffix == ".png":
        assert data.startswith(b"\x89PNG")
        width, height = struct.unpack(">II", data[16:24])
        assert width > 1400 and height > 1400
    elif suffix == ".pdf":
        assert data.startswith(b"%PDF")
    else:
        text = data.decode()
        markup = re.sub(r"(?s)(<script[^>]*>).*</script>", r"\1</script>", text)
        assert not re.search(r"\b(?:src|href)=", markup)
        assert "default-src 'none'" in markup and "connect-src" not in markup  # no request at all
        assert "cdn." not in text


def test_names_cannot_break_out_of_a_page() -> None:
    nasty = "</script><script>alert(1)</script>"
    rows = [{**ROWS[0], "site": nasty}, ROWS[3]]
    text = charts.page(agreement_chart.chart(rows, "us", [nasty], BELOW).to_dict(), nasty)
    assert "<script>alert" not in text
    assert text.count("</script>") == 1
    assert "<title>&lt;/script&gt;&lt;script&gt;alert(1)" in text


def test_one_site_has_no_legend_and_other_suffixes_are_refused(tmp_path: Path) -> None:
    chart = agreement_chart.chart(ROWS[:3], "us", HEADLINE, BELOW)
    encoding = chart.to_dict()["concat"][0]["layer"][-1]["encoding"]
    assert encoding["color"]["legend"] is None
    with pytest.raises(InputError, match=r"'chart\.gif' does not end in \.svg"):
        charts.write_chart(chart, tmp_path / "chart.gif", title="")
    assert not list(tmp_path.iterdir())


def test_more_rows_than_altairs_own_limit_are_drawn(tmp_path: Path) -> None:
    many = [{**ROWS[n % 4], "line": n} for n in range(5100)]
    charts.write_chart(
        charts.finish(
            agreement_chart.misses_by_nitrogen(
                [agreement_chart._shown(row, "us") for row in many], "us"
            ),
            HEADLINE,
            BELOW,
        ),
        tmp_path / "chart.svg",
        title="",
    )
