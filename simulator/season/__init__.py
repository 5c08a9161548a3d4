"""A season: what the grower does, what the weather brings, and the days between."""
