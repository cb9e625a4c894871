"""What the edge of every room shares: rendering, words, figures, geometry of pictures."""
