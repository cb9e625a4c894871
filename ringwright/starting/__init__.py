"""How many parts to start so that enough come through: the arithmetic, pure."""
