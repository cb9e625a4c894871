"""Bookings: from the bench, from the API, from another record's history."""
