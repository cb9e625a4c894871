"""The floor: where the work stands now, what is stuck, and the acts that get it going again."""
