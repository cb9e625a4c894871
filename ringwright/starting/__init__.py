"""The arithmetic of starts: how many parts for so many good ones, and by when."""
