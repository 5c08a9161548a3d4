"""Trials: what was measured in plots, how well the model agrees, what it can learn of them."""
