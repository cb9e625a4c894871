"""The ring test: what a blade's ring says of its natural frequencies. Pure: no web, no SQL."""
