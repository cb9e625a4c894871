"""The arithmetic of a heat cycle, pure: recipes, traces, how a trace is judged."""
