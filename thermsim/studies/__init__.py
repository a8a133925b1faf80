"""Studies: what is run, and what is made of it."""
