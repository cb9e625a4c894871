"""Radiographs as values: read, windowed, drawn and measured. Pure: no web, no SQL."""
