"""Small programs behind ./start and ./check."""
