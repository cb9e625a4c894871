"""Where has it been, what did it touch: one part's history, suspects, containments."""
