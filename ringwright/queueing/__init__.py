"""The arithmetic of waiting: a line and its bounds, queues, where stations' hours went."""
