"""The field as the day loop finds it in the morning: what it is made of, and how things stand.

Everything that a day hands to the next is in one record, `FIELD`, so that a copy of it is all that
two plans need which do the same up to a day and differ from then on.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.process.canopy import root_density
from simulator.process.compiled import compiled
from simulator.process.development import emergence_thermal_time
from simulator.process.frost import TENDER
from simulator.process.nitrogen import ANAEROBIC, topsoil_share

Array = np.ndarray[Any, Any]

MOST_LAYERS = 60
AGES = 6  # classes of leaf age: deaths spread over two fifths of a leaf's life
CARBON = 0.42  # kg carbon per kg dry matter, common practice
ORGANIC_NITROGEN = 0.058  # kg N per kg organic matter: 58 % carbon, C:N 10, common practice
SURFACE = 10.0  # cm of soil that evaporation dries and seeds lie in (FAO paper 56: 10 to 15)
AIR_DRY = 0.5  # share of the wilting point (FAO paper 56 eq. 73)

LAYERS = (np.float64, (MOST_LAYERS,))

# what no day changes
COLUMN = np.dtype(
    [
        ("layers", np.int64),
        ("surface_layers", np.int64),  # those that evaporation dries
        ("rootable", np.float64),  # cm
        ("surface_full", np.float64),  # mm at field capacity
        ("surface_dry", np.float64),  # mm at the wilting point
        ("evaporable", np.float64),  # mm
        ("readily_evaporable", np.float64),  # mm
        ("emergence_at", np.float64),  # degC d
        ("bottoms", *LAYERS),  # cm
        ("tops", *LAYERS),  # cm
        ("thick", *LAYERS),  # mm
        ("field_capacity", *LAYERS),  # mm
        ("wilting_point", *LAYERS),  # mm
        ("air_dry", *LAYERS),  # mm
        ("saturation", *LAYERS),  # mm
        ("surface", *LAYERS),  # share of each layer that is soil surface
        ("topsoil", *LAYERS),  # organic matter as a share of the surface's
        ("density", *LAYERS),  # of roots, as a share of the surface's
        ("short_of_air", *LAYERS),  # mm, water above which nitrate is denitrified
    ]
)

# what a day hands to the next
FIELD = np.dtype(
    [
        # the soil, in mm of water and kg/ha of nitrogen
        ("water", *LAYERS),
        ("nitrate", *LAYERS),
        ("ammonium", *LAYERS),
        ("organic", *LAYERS),
        # previous crop's residue, fertilizer not yet in the soil
        ("residue_carbon", np.float64),
        ("urea", np.float64),
        ("litter", np.float64),
        # the stand
        ("sown", np.bool_),
        ("emerged", np.bool_),
        ("alive", np.bool_),
        ("germination", np.float64),
        ("seed_ageing", np.float64),  # probits of viability lost in a dry seedbed
        ("flooded", np.float64),  # d without a break
        ("flooded_beyond", np.float64),  # d of flooding beyond what seed bears
        ("crust", np.float64),  # on the seedbed, 0 to 1
        # of the seedlings, what each leaves; and the plants that came up
        ("left_by_dryness", np.float64),
        ("left_by_flooding", np.float64),
        ("left_by_crust", np.float64),
        ("plants_emerged", np.float64),
        ("thermal_time", np.float64),  # from sowing
        ("development", np.float64),
        ("vernal_days", np.float64),
        ("leaves", np.float64),
        ("plants", np.float64),
        ("shoots", np.float64),
        ("leaf_area", np.float64),
        ("leaf_ages", np.float64, (AGES,)),  # leaf area by class of age, the youngest first
        ("leaf", np.float64),  # dry mass of green leaves, a part of the shoots'
        ("shoot", np.float64),
        ("root", np.float64),
        ("nitrogen", np.float64),  # in shoots and roots
        ("root_depth", np.float64),
        ("lt50", np.float64),
        ("surviving", np.float64),  # of the plants, through the worst night so far
        ("leaves_spared", np.float64),  # of the leaves now there, likewise
        ("killed", np.float64),
        ("killed_nitrogen", np.float64),
        ("shed", np.float64),  # dead leaves, off the stand
        ("shed_nitrogen", np.float64),
        ("seedling", np.float64),
        ("seedling_nitrogen", np.float64),
        ("grown", np.float64),
        # the day that is over
        ("stress", np.float64),
        ("nutrition", np.float64),  # nitrogen nutrition index
        # sums of the season
        ("precipitation", np.float64),
        ("irrigation", np.float64),
        ("runoff", np.float64),
        ("drainage", np.float64),
        ("evaporation", np.float64),
        ("transpiration", np.float64),
        ("leached", np.float64),
        ("denitrified", np.float64),
        ("volatilised", np.float64),
        ("mineralised", np.float64),
        ("applied", np.float64),
        ("test_correction", np.float64),
        ("water_start", np.float64),
        ("nitrogen_start", np.float64),
    ],
    align=True,
)


@compiled
def fill_columns(soils: Array, cereals: Array, bottoms: Array, columns: Array) -> None:
    """Fill in what no day changes.

    Parameters
    ----------
    soils, cereals : structured array (1,)
    bottoms : array (layer,)
        Depths of the layers' bottoms [cm].
    columns : structured array (1,) of `COLUMN`
        Filled.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    soil, cereal, column = soils[0], cereals[0], columns[0]
    column.layers = bottoms.size
    column.surface_layers = 0
    column.rootable = min(soil.rootable, cereal.deepest_roots, bottoms[bottoms.size - 1])
    column.surface_full = 10.0 * SURFACE * soil.field_capacity
    column.surface_dry = 10.0 * SURFACE * soil.wilting_point
    column.evaporable = column.surface_full - AIR_DRY * column.surface_dry
    column.readily_evaporable = min(soil.readily_evaporable, 0.9 * column.evaporable)
    column.emergence_at = emergence_thermal_time(cereal.sowing_depth)
    for layer in range(bottoms.size):
        top = bottoms[layer - 1] if layer > 0 else 0.0
        bottom = bottoms[layer]
        thick = 10.0 * (bottom - top)
        column.tops[layer] = top
        column.bottoms[layer] = bottom
        column.thick[layer] = thick
        column.field_capacity[layer] = thick * soil.field_capacity
        column.wilting_point[layer] = thick * soil.wilting_point
        column.air_dry[layer] = AIR_DRY * column.wilting_point[layer]
        column.saturation[layer] = thick * soil.saturation
        column.surface[layer] = min(max(SURFACE - top, 0.0) / (bottom - top), 1.0)
        if column.surface[layer] > 0.0:
            column.surface_layers = layer + 1
        column.short_of_air[layer] = ANAEROBIC * column.saturation[layer]
        column.density[layer] = root_density(top, bottom, cereal.root_shape)
        column.topsoil[layer] = topsoil_share(top, bottom)


@compiled
def first_morning(soils: Array, previous_crops: Array, columns: Array, fields: Array) -> None:
    """Set a field to what the previous crop leaves.

    Parameters
    ----------
    soils, previous_crops : structured array (1,)
    columns : structured array (1,) of `COLUMN`
    fields : structured array (1,) of `FIELD`
        All zero; filled.
    """
    soil, crop, column, field = soils[0], previous_crops[0], columns[0], fields[0]
    nitrate = 0.0
    for layer in range(column.layers):
        # a hundredth of 1 t/m3 over 1 mm is 100 kg/ha
        field.organic[layer] = (
            100.0
            * soil.organic_matter
            * column.topsoil[layer]
            * soil.bulk_density
            * column.thick[layer]
            * ORGANIC_NITROGEN
        )
        field.water[layer] = column.wilting_point[layer] + crop.available_water * (
            column.field_capacity[layer] - column.wilting_point[layer]
        )
        field.nitrate[layer] = (
            crop.residual_nitrate
            * (column.bottoms[layer] - column.tops[layer])
            / column.bottoms[column.layers - 1]
        )
        field.ammonium[layer] = crop.residual_ammonium if layer == 0 else 0.0
        field.water_start += field.water[layer]
        nitrate += field.nitrate[layer]
    field.nitrogen_start = nitrate + crop.residual_ammonium
    field.residue_carbon = crop.residue * CARBON
    field.alive = True
    field.left_by_dryness = 1.0
    field.left_by_flooding = 1.0
    field.left_by_crust = 1.0
    field.lt50 = TENDER
    field.surviving = 1.0
    field.leaves_spared = 1.0
