"""Files that hold the records of several stations: listed, split, read station by station."""
