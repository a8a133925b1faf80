"""How much each input matters, and how sure the result is."""
