"""The view for a class: thermal time, by every method."""
