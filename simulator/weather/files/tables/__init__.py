"""A table with a header, from text, a spreadsheet or memory, made into daily values."""
