"""Pure foundations: no web, no SQL, standard library only."""
