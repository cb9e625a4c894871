"""The ring test at the Bench: from a recording of taps to frequencies in the record."""
