"""One day of a season, compiled: with `process/` all that the day loop is made of."""
