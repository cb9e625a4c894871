"""The forecast of a week's output: pure arithmetic on what happened before a moment."""
