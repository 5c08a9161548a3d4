"""How far a field may be from the model's: what a clipping is weighed with."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.parameters.bounded import BoundedSet, bounded

_SPREAD = (
    "common practice, no source; all six together spread first samplings of rye in the open trials"
    " by 0.6, where the model misses them by 0.8 (Huddell et al. 2024, Scientific Data 11:200)"
)
_LEFT_OUT = (
    "left out season by season, 68 pairs of samplings of one stand in 12 seasons of the open"
    " trials (Huddell et al. 2024, Scientific Data 11:200)"
)
_IN_SIGHT = (
    "chosen on the same pairs by what was left out, with all seasons in sight: see docs/outlook.md"
)
_RANGE = "within what is found from field to field, common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSpread(BoundedSet):
    """Spread of what a field may be, error of a clipping, and what stands usually gain.

    The spreads are standard deviations of the logarithm: 0.3 is a third more or a quarter less.
    """

    name: str = "rye"
    source: str = "values of each parameter as listed"

    nitrogen: float = bounded(
        0.6,
        "1",
        0.0,
        1.5,
        "spread of the nitrogen that organic matter sets free and that the crop before left",
        f"soils' supply differs by a factor of three between the open trials' sites; {_SPREAD}",
    )
    light: float = bounded(
        0.15, "1", 0.0, 0.5, "spread of the dry matter made from a unit of light", _SPREAD
    )
    leaf: float = bounded(
        0.3, "1", 0.0, 1.0, "spread of the relative growth of young leaves", _SPREAD
    )
    root: float = bounded(0.2, "1", 0.0, 0.8, "spread of the young stand's share to roots", _RANGE)
    leaf_life: float = bounded(
        0.3, "1", 0.0, 1.0, "spread of the time that leaves live before stems rise", _RANGE
    )
    stand: float = bounded(
        0.3, "1", 0.0, 1.0, "spread of the leaf area that the stand comes up with", _RANGE
    )
    clipping: float = bounded(
        0.2,
        "1",
        0.02,
        1.0,
        "error of a clipping, as a share of it",
        "plots of one mean differ by a quarter in the open trials (Huddell et al. 2024); few plots,"
        " or one field's few spots, leave 15 to 20 %, common practice",
    )
    missed: float = bounded(
        0.45,
        "1",
        0.01,
        1.5,
        "spread of stands about the model that none of the above makes",
        "about what is left of 0.8 when the draws make 0.6",
    )
    pace: float = bounded(
        0.1,
        "1",
        0.0,
        0.5,
        "spread of the pace of development, drawn where a stage was scored",
        "heading of winter wheat is 5.4 days off at four German sites (BRIWECS, Scientific Data"
        " 2024, s41597-024-04332-7), a tenth of the days from the start of spring",
    )
    stage: float = bounded(
        4.0,
        "1",
        0.5,
        20.0,
        "error of a growth stage, in units of the Zadoks scale",
        "two people differ by 2 to 3, shoots of one field by as much; common practice, no source",
    )
    cover: float = bounded(
        0.1,
        "1",
        0.01,
        0.5,
        "error of green cover, as a share of the ground",
        "read by eye to about a tenth of the ground; common practice, no source",
    )
    nitrate: float = bounded(
        0.35,
        "1",
        0.02,
        1.5,
        "error of soil nitrate, as a share of it",
        "cores of one field differ by a third to a half, a sample of 15 by a tenth; depth and day"
        " add as much; common practice, no source",
    )
    drawn: float = bounded(
        0.75,
        "1",
        0.0,
        0.99,
        "correlation of what a field makes with its place among the draws",
        "0.6 that the draws make of 0.8 that the model misses first samplings by, as above",
    )
    tried_days: float = bounded(
        45.0,
        "d",
        1.0,
        300.0,
        "days after a clipping up to which the trials say how far off its outlook is",
        "of 68 pairs of samplings all but a few lie that near, the longest 48 days",
    )
    usual_gain: float = bounded(
        8.25,
        "kg ha-1 degC-1 d-1",
        1.0,
        30.0,
        "dry matter that a stand under full leaf usually gains from a degree-day above 0 degC",
        _LEFT_OUT,
    )
    full_cover: float = bounded(
        400.0,
        "kg ha-1",
        10.0,
        5000.0,
        "dry matter at which a stand gains 63 % of that",
        "young stands have their canopy early, from memory; 300 to 1000 do about as well left out",
    )
    usual_days: float = bounded(
        45.0,
        "d",
        1.0,
        1000.0,
        "days after a clipping at which the model's own growth counts for 63 %, by exp(-(t/T)^4)",
        _IN_SIGHT,
    )
    gain_error: float = bounded(
        0.55,
        "1",
        0.0,
        2.0,
        "spread of what stands gained about what was foretold, as a share of it",
        _IN_SIGHT,
    )


RYE = FieldSpread()
