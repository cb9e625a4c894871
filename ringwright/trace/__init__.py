"""Where has it been, what did it touch: one part's history, what is suspect, and containing it."""
