"""The case shop: the week of its machines, and the planner's board."""
