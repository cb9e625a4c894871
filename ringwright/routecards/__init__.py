"""Products and route cards: which steps a part goes through, at which revision."""
