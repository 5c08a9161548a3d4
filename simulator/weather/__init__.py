"""Weather: daily records, read, checked, changed and generated."""
