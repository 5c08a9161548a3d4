"""What the plots of a trial say by themselves: no weather, no model."""
