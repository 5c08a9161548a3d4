"""Commands about weather alone."""
