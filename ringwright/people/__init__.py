"""Who acts, in which roles, and what each role may do."""
