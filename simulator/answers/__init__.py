"""A question, an answer: asked of the seasons, told in words, tables and charts."""
