"""The wall of a case, pure: its plan, readings of a file, the map, what the next cut leaves."""
