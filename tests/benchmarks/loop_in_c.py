"""The day loop in C: compiled on the spot, called through ctypes."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
from loop_members import Members

from simulator.parameters.cereals import Cereal
from simulator.parameters.fertilizers import Fertilizer
from simulator.parameters.soils import PreviousCrop, Soil
from simulator.process import canopy, development, establishment, frost, nitrogen, water
from simulator.season.day import calendar, drivers, leaves, order
from simulator.season.day import record as day_record
from simulator.season.day import stand as stand_today
from simulator.season.day import state as field

SOURCE = Path(__file__).with_name("day_loop.c")
# No -ffast-math. Contraction to fused multiply-add is left on, as it is for anyone who asks the
# compiler for this much: the C side gets every advantage that keeps to 1e-9.
OPTIONS = ("-O3", "-march=native", "-std=gnu11", "-shared", "-fPIC")


def compiler() -> str | None:
    """The machine's C compiler, if it has one that takes `OPTIONS`."""
    if os.name == "nt":
        return None
    return shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")


def records() -> str:
    """The header that ties day_loop.c to the layouts and constants of the Python side."""
    lines = []
    for kind in (Cereal, Soil, PreviousCrop, Fertilizer):
        lines += ["typedef struct {"]
        lines += [f"    double {name};" for name in kind.dtype().names]
        lines += [f"}} {kind.__name__};"]
    lines += ["typedef struct {", *(f"    double {name};" for name in day_record.FIELDS), "} Day;"]
    constants = {
        name: value
        for module in (
            canopy,
            development,
            establishment,
            frost,
            nitrogen,
            water,
            drivers,
            field,
            stand_today,
            order,
            calendar,
            leaves,
        )
        for name, value in vars(module).items()
        if name.isupper() and isinstance(value, int | float)
    }
    lines += [f"#define {name} {value!r}" for name, value in constants.items()]
    return "\n".join(lines)


class LoopInC:
    """`grow_members` in C."""

    def __init__(self, folder: Path) -> None:
        folder.joinpath("records.h").write_text(records(), encoding="utf-8")
        library = folder / "day_loop.so"
        subprocess.run(
            [str(compiler()), *OPTIONS, f"-I{folder}", str(SOURCE), "-o", str(library), "-lm"],
            check=True,
        )
        self._grow_members = ctypes.CDLL(str(library)).grow_members
        self._grow_members.restype = None

    def grow_members(
        self, members: Members, low: int, high: int, out: np.ndarray[Any, Any]
    ) -> None:
        """Run members ``low`` to ``high``."""
        pointers = [
            argument.ctypes.data_as(ctypes.c_void_p)
            if isinstance(argument, np.ndarray)
            else ctypes.c_int64(argument)
            for argument in (
                *members.arguments(low, high, out),
                members.seedings.size,
                members.dressing_amounts.shape[1],
                members.end_kinds.size,
                members.bottoms.size,
            )
        ]
        self._grow_members(*pointers)

    def grown(self, members: Members) -> np.ndarray[Any, Any]:
        """The C loop's answer."""
        out = members.room()
        self.grow_members(members, 0, members.count, out)
        return out
