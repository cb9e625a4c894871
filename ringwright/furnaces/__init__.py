"""Furnaces, what is proved of them, their recipes, and the record of their runs."""
