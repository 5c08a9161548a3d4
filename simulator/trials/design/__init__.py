"""The trial that would settle a question: drawn by the thousand, and laid out in the field."""
