"""What people and programs see: tables, paragraphs, files."""
