"""Weather files of every layout: read, checked, split by station."""
