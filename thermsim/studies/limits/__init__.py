"""Limits of the model, each told once and by name, where they matter."""
