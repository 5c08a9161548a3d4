"""A question, an answer, no printing."""
