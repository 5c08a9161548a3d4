"""Places x years x plans: grids that outgrow a machine's memory, and then the machine."""

from simulator.season.grid.finished import open_grid
from simulator.season.grid.run import run_grid

__all__ = ["open_grid", "run_grid"]
