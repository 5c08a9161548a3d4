"""What parameters are called where people read: files keep the names of the sets."""

from __future__ import annotations

import re

# names of the sets that a grower or an agronomist would not know; the others are said as they are
_CALLED = {
    "available_water": "water in September",
    "cold_leaf_thinness": "leaf thinness in the cold",
    "critical_photoperiod": "critical day length",
    "crusting": "seedlings held by a crust",
    "crust_rain": "rain that makes a crust",
    "curve_number": "runoff curve number",
    "deepest_roots": "deepest rooting",
    "depletion_fraction": "water taken unstressed",
    "depth": "depth of the soil",
    "development_best": "warmth for fastest stages",
    "development_highest": "too warm for stages",
    "development_lowest": "too cold for stages",
    "drain_rate": "speed of drainage",
    "elongation_rate": "speed jointing to flower",
    "establishment": "seeds that make a plant",
    "extinction": "light caught by leaf area",
    "flood_borne": "flooding that seed bears",
    "flood_loss": "seedlings lost by flood",
    "flooded_air": "pore air of flooded soil",
    "full_crop_coefficient": "water use in full leaf",
    "growth_best": "warmth for fastest growth",
    "growth_highest": "too warm to grow",
    "growth_index_full": "nitrogen for full growth",
    "growth_index_least": "nitrogen to grow at all",
    "growth_lowest": "too cold to grow",
    "hardiest": "winter hardiness",
    "leaf_base": "too cold for leaves",
    "leaf_growth_rate": "leaf growth when young",
    "leaf_index_full": "nitrogen for full leaves",
    "leaf_index_least": "nitrogen to leaf at all",
    "leaf_life": "leaf life before jointing",
    "leaf_share_end": "growth to leaves, late",
    "leaf_share_start": "growth to leaves, early",
    "last_leaf_life": "leaf life after jointing",
    "least_air": "pore air that roots need",
    "left_in_old_leaves": "nitrogen in old leaves",
    "light_half": "light for half of growth",
    "luxury": "nitrogen beyond need",
    "mineralisation_rate": "organic nitrogen set free",
    "most_plants": "most plants of a stand",
    "most_shoots": "most shoots of a stand",
    "most_uptake": "most nitrogen in a day",
    "optimum_photoperiod": "optimum day length",
    "phyllochron": "warmth from leaf to leaf",
    "readily_evaporable": "freely evaporating water",
    "reserve_limit": "when roots feed leaves",
    "reserve_rate": "roots feeding new leaves",
    "richest": "most nitrogen of shoots",
    "ripening_rate": "speed of ripening",
    "root_mass_half": "roots for half of uptake",
    "root_nitrogen_ratio": "nitrogen of roots",
    "root_shape": "rooting at depth",
    "root_share_end": "growth to roots, late",
    "root_share_start": "growth to roots, early",
    "root_speed": "speed of rooting down",
    "rootable": "depth that roots can enter",
    "saturation": "pore space",
    "seed_reserve": "seed that becomes seedling",
    "shading_limit": "leaf area shading itself",
    "smallest_crop_coefficient": "water use without leaves",
    "specific_leaf_area": "leaf area per mass",
    "tender_leaf": "hardiness of tender leaves",
    "uptake_rate": "speed of nitrogen uptake",
    "vegetative_rate": "speed up to jointing",
    "vernal_half": "cold needed (vernalization)",
}
_PARTS = {"degC": "°C", "m2": "m²", "m3": "m³", "cm2": "cm²", "1": "", "percent": "%"}
_INVERSE = re.compile(r"(?P<unit>[A-Za-z]+)-(?P<power>\d)")


def called(name: str) -> str:
    """Say what a parameter is, in the trade's words: ``"hardiest"`` is winter hardiness."""
    said = _CALLED.get(name, name.replace("_", " "))
    return said.replace("isation", "ization")  # files keep their spelling


def readable_unit(unit: str) -> str:
    """Write a parameter's unit as people do: ``"kg ha-1"`` is ``"kg/ha"``."""
    above, below = [], []
    for part in unit.split():
        inverse = _INVERSE.fullmatch(part)
        if inverse:
            power = "" if inverse["power"] == "1" else inverse["power"]
            whole = f"{inverse['unit']}{power}"
            below.append(_PARTS.get(whole, whole))
        else:
            above.append(_PARTS.get(part, part))
    under = f"({' '.join(below)})" if len(below) > 1 else "".join(below)
    return f"{' '.join(above) or '1'}/{under}" if below else " ".join(above)
