"""Commands that take the plots of a trial, and what the model depends on."""
