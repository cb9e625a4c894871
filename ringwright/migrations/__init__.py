"""Schema versions. Changes of data are made by a replay, never by hand."""
