"""How many welds are accepted at their first radiograph, and what repairs cost."""
