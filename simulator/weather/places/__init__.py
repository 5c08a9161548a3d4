"""Places: the locations that weather is for, found in folders and files, and their records read.

Finding them is cheap: no daily values are read, though a table of several stations is read through
once. A place says where its record is, so that the record can be read where it is used, in another
process or on another machine. `station` is where weather was measured, as an archive names it, and
`site` the name of a place in a file, in results and on the command line.
"""

from simulator.weather.places.finding import find_places
from simulator.weather.places.netcdf_blocks import Block, read_block
from simulator.weather.places.place import Place
from simulator.weather.places.reading import read_place, read_places, read_split_station

__all__ = [
    "Block",
    "Place",
    "find_places",
    "read_block",
    "read_place",
    "read_places",
    "read_split_station",
]
