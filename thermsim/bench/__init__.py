"""Bench: what was logged, set beside the model: before and after, fits, leaks."""
