"""The book of a coolant loop: pressures, heat, volumes, and what becomes of it over the years."""
