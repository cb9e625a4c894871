"""Tells open pages that the record has grown, so that they ask again."""
