"""Parameter sets: bounded, sourced, and refused with a message that helps."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from simulator.parameters.cereals import CEREALS, Cereal, cereal
from simulator.parameters.fertilizers import FERTILIZERS, Fertilizer, fertilizer
from simulator.parameters.soils import (
    PREVIOUS_CROPS,
    SOILS,
    PreviousCrop,
    Soil,
    layer_bottoms,
    previous_crop,
    soil,
)
from simulator.problems import InputError

KINDS = (Cereal, Soil, PreviousCrop, Fertilizer)
SETS = [*CEREALS.values(), *SOILS.values(), *PREVIOUS_CROPS.values(), *FERTILIZERS.values()]
SPECS = [(kind, key) for kind in KINDS for key in kind.specs()]


def said(error: pytest.ExceptionInfo[InputError]) -> str:
    return str(error.value)


@pytest.mark.parametrize(
    ("kind", "key"), SPECS, ids=lambda x: x if isinstance(x, str) else x.__name__
)
def test_every_parameter_says_what_it_is_and_where_it_comes_from(kind, key):
    spec = kind.specs()[key]
    assert len(spec.meaning.split()) >= 2
    assert len(spec.source.split()) >= 2
    assert spec.unit.strip()
    assert spec.low < spec.high
    assert spec.low <= getattr(kind(), key) <= spec.high


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_of_a_set_is_bounded(kind):
    numbers = {f.name for f in dataclasses.fields(kind)} - {"name", "source", "variety"}
    assert numbers == set(kind.specs())


@pytest.mark.parametrize("one", SETS, ids=lambda one: one.name)
def test_the_packaged_sets_are_whole(one):
    assert one.source
    record = one.as_record()
    assert record.shape == (1,)
    assert record.dtype == type(one).dtype()
    assert all(record[key][0] == getattr(one, key) for key in one.specs())


@pytest.mark.parametrize("table", [CEREALS, SOILS, PREVIOUS_CROPS, FERTILIZERS])
def test_sets_go_by_their_names(table):
    assert all(name == one.name for name, one in table.items())


def test_the_five_cereals_are_there():
    assert set(CEREALS) == {"rye", "wheat", "triticale", "barley", "oat"}


def test_a_set_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        cereal("rye").extinction = 0.6


# what is refused


@pytest.mark.parametrize("value", [0.1, 0.9])
def test_out_of_bounds(value):
    with pytest.raises(InputError) as error:
        dataclasses.replace(cereal("rye"), extinction=value)
    assert said(error) == (
        f"rye: extinction: {value:g} 1 is out of bounds. Take a value from 0.35 to 0.75 1."
    )


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "a lot", None])
def test_not_a_number(value):
    with pytest.raises(InputError) as error:
        dataclasses.replace(soil("clay"), curve_number=value)
    assert said(error) == f"clay: curve_number: {value!r} is not a number."


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as error:
        PreviousCrop(name="weeds", residue=-5.0, decay_rate=math.nan, available_water=3.0)
    assert [p.where for p in error.value.problems] == [
        "weeds: residue",
        "weeds: decay_rate",
        "weeds: available_water",
    ]
    assert "3 problems" in said(error)


def test_an_unknown_parameter():
    with pytest.raises(TypeError, match="depht"):
        dataclasses.replace(soil("clay"), depht=90.0)


@pytest.mark.parametrize(
    ("look_up", "table", "option"),
    [
        (cereal, CEREALS, "cereal"),
        (soil, SOILS, "soil"),
        (previous_crop, PREVIOUS_CROPS, "previous_crop"),
        (fertilizer, FERTILIZERS, "fertilizer"),
    ],
)
def test_an_unknown_name_lists_the_choices(look_up, table, option):
    with pytest.raises(InputError) as error:
        look_up("moon dust")
    (problem,) = error.value.problems
    assert problem.where == option
    assert "'moon dust' is not known." in problem.what
    assert problem.remedy == f"Choose from: {', '.join(table)}."


def test_a_slip_of_the_pen_gets_a_hint():
    with pytest.raises(InputError, match="Did you mean 'triticale'"):
        cereal("tritikale")


@pytest.mark.parametrize("name", ["Sandy Loam", "sandy-loam", "sandy_loam", "  sandy   loam "])
def test_names_are_read_kindly(name):
    assert soil(name) is SOILS["sandy loam"]


def test_shares_of_a_fertilizer_are_at_most_the_whole():
    with pytest.raises(InputError, match="add up to more than 1"):
        Fertilizer(name="magic", nitrate=0.7, ammonium=0.5)


# what the numbers must be to each other

FAO_TABLE_19 = {  # field capacity, wilting point, readily evaporable water [mm]
    "sand": ((0.07, 0.17), (0.02, 0.07), (2, 7)),
    "loamy sand": (None, None, (4, 8)),
    "sandy loam": ((0.18, 0.28), (0.06, 0.16), (6, 10)),
    "loam": ((0.20, 0.30), (0.07, 0.17), (8, 10)),
    "silt loam": ((0.22, 0.36), (0.09, 0.21), (8, 11)),
    "silty clay loam": (None, None, (8, 11)),
    "clay": ((0.32, 0.40), (0.20, 0.24), (8, 12)),
}


@pytest.mark.published("Allen et al. 1998, FAO paper 56, table 19: ranges by texture")
@pytest.mark.parametrize("name", SOILS)
def test_soils_lie_in_the_ranges_of_their_texture(name):
    one = SOILS[name]
    values = (one.field_capacity, one.wilting_point, one.readily_evaporable)
    for value, limits in zip(values, FAO_TABLE_19[name], strict=True):
        if limits:
            assert limits[0] <= value <= limits[1]


@pytest.mark.parametrize("name", SOILS)
def test_soils_hold_more_water_the_wetter_they_are_called(name):
    one = SOILS[name]
    assert one.wilting_point < one.field_capacity < one.saturation
    assert one.saturation == pytest.approx(1.0 - one.bulk_density / 2.65, abs=0.06)


@pytest.mark.parametrize(
    "wrong",
    [
        {"field_capacity": 0.10, "wilting_point": 0.30},
        {"field_capacity": 0.45, "saturation": 0.30},
        {"field_capacity": 0.10, "wilting_point": 0.10},
        {"field_capacity": 0.40, "saturation": 0.40},
    ],
)
def test_a_soil_out_of_order_is_refused(wrong):
    with pytest.raises(InputError) as error:
        Soil(name="upside down", **wrong)
    (problem,) = error.value.problems
    assert problem.where == "upside down: wilting_point, field_capacity, saturation"
    assert "out of order" in problem.what
    assert problem.remedy == "Each must be larger than the one before."


# layers


@pytest.mark.parametrize("name", SOILS)
@pytest.mark.parametrize("depth", [30.0, 45.0, 120.0, 300.0])
def test_layers_go_down_to_the_soils_depth(name, depth):
    bottoms = layer_bottoms(dataclasses.replace(SOILS[name], depth=depth))
    assert bottoms[0] == 10.0
    assert bottoms[-1] == depth
    assert (np.diff(bottoms) >= 5.0).all()
    assert (np.diff(bottoms) <= 25.0).all()


@pytest.mark.parametrize("layers", [1, 2, 7, 60])
def test_equal_layers(layers):
    bottoms = layer_bottoms(soil("loam"), layers)
    assert bottoms.size == layers
    assert np.diff(bottoms, prepend=0.0) == pytest.approx(np.full(layers, 120.0 / layers))


@pytest.mark.parametrize("layers", [0, -3, 61])
def test_layers_out_of_range(layers):
    with pytest.raises(InputError) as error:
        layer_bottoms(soil("loam"), layers)
    assert said(error) == f"layers: {layers} layers cannot be used. Take 1 to 60."
