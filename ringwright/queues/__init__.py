"""Queues: which station group is the neck, what waits there, where the hours went."""
