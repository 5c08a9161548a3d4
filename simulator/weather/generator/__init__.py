"""Weather that could also have been: fitted to a record, drawn, held against it."""
