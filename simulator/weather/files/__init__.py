"""Weather files of every layout: read, checked, taken apart."""
