"""What the field view says first: the difference asked for, what would mend it, nitrogen's way."""
