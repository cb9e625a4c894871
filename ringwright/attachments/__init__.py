"""What is kept with a part beside figures: photographs, recordings, tables, papers."""
