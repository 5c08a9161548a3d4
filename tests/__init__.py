"""Checks of the simulator; a package, so that `python -m tests.fuzz` finds ours and no other."""
