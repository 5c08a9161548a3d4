"""What parameters are called where people read: files keep the names of the sets."""

from __future__ import annotations

import re

# names of the sets that a grower or an agronomist would not know; the others are said as they are
_CALLED = {
    "available_water": "available water in September",
    "cold_leaf_thinness": "leaf area per mass in the cold",
    "critical_photoperiod": "shortest day for development",
    "crusting": "seedlings held by a crust",
    "crust_rain": "rain that makes a crust",
    "curve_number": "runoff curve number",
    "deepest_roots": "deepest rooting",
    "depletion_fraction": "water taken without stress",
    "depth": "depth of the soil column",
    "development_best": "best temperature for development",
    "development_highest": "highest temperature for development",
    "development_lowest": "lowest temperature for development",
    "drain_rate": "speed of drainage",
    "elongation_rate": "speed from jointing to flowering",
    "establishment": "seeds that make a plant",
    "extinction": "light caught by leaf area",
    "flood_borne": "flooding that seedlings bear",
    "flood_loss": "seedlings lost in a day of flood",
    "flooded_air": "pore air below which soil is flooded",
    "full_crop_coefficient": "water use under full leaf",
    "growth_best": "best temperature for growth",
    "growth_highest": "highest temperature for growth",
    "growth_index_full": "nitrogen for full growth",
    "growth_index_least": "nitrogen at which growth stops",
    "growth_lowest": "lowest temperature for growth",
    "hardiest": "winter hardiness",
    "leaf_base": "lowest temperature for leaves",
    "leaf_growth_rate": "leaf growth of young stands",
    "leaf_index_full": "nitrogen for full leaf growth",
    "leaf_index_least": "nitrogen at which leaves stop",
    "leaf_life": "leaf life before jointing",
    "leaf_share_end": "growth to leaves, late",
    "leaf_share_start": "growth to leaves, early",
    "last_leaf_life": "leaf life after jointing",
    "least_air": "pore air that roots need",
    "left_in_old_leaves": "nitrogen left in old leaves",
    "light_half": "light for half of full growth",
    "luxury": "nitrogen stored beyond need",
    "mineralisation_rate": "nitrogen from organic matter",
    "most_plants": "most plants of a stand",
    "most_shoots": "most shoots of a stand",
    "most_uptake": "most nitrogen taken up in a day",
    "optimum_photoperiod": "day length of fastest development",
    "phyllochron": "warmth from leaf to leaf",
    "readily_evaporable": "water that evaporates freely",
    "reserve_limit": "when roots feed new leaves",
    "reserve_rate": "root reserves for new leaves",
    "richest": "most nitrogen of shoots",
    "ripening_rate": "speed of ripening",
    "root_mass_half": "roots for half of full uptake",
    "root_nitrogen_ratio": "nitrogen of roots to shoots",
    "root_shape": "rooting at depth",
    "root_share_end": "growth to roots, late",
    "root_share_start": "growth to roots, early",
    "root_speed": "speed of rooting down",
    "rootable": "depth that roots can enter",
    "saturation": "pore space",
    "seed_reserve": "seed that becomes seedling",
    "shading_limit": "leaf area that shades old leaves",
    "smallest_crop_coefficient": "water use without leaves",
    "specific_leaf_area": "leaf area per mass",
    "tender_leaf": "hardiness of tender leaves",
    "uptake_rate": "speed of nitrogen uptake",
    "vegetative_rate": "speed from emergence to jointing",
    "vernal_half": "cold needed (vernalization)",
}
_PARTS = {"degC": "°C", "m2": "m²", "m3": "m³", "cm2": "cm²", "1": "", "percent": "%"}
_INVERSE = re.compile(r"(?P<unit>[A-Za-z]+)-(?P<power>\d)")


def called(name: str) -> str:
    """Say what a parameter is, in the trade's words: ``"hardiest"`` is winter hardiness."""
    said = _CALLED.get(name, name.replace("_", " "))
    return said.replace("isation", "ization")  # files keep their spelling


def unit_told(unit: str) -> str:
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
