"""Blade sets: stock, builder runs, reservations, fitting; the Blade sets pages."""
