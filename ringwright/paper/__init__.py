"""Work on paper while the record is out of reach, and what is entered of it afterwards."""
