"""The spread of the stock: how readings of one characteristic lie and drift."""
