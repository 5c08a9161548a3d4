"""Views of the page beside the field's, each a module with its template and its script."""
