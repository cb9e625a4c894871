"""The Ground rules page: products, route cards, stations, calendars, people, permissions."""
