"""Views of the page beside one field and thermal time: a module, a template and a script each."""
