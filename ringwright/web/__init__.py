"""The composition root: puts the rooms together and serves them."""
