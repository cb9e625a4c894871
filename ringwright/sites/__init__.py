"""A site: its zone, week, calendars with shifts, stations and people."""
