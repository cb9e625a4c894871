"""Welds of a ring of vanes: the plan of a product, what happened to each, what is next."""
