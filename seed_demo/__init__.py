"""The invented factory: its ground rules, its simulated history, its telling."""
