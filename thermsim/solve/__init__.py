"""Steady states and histories of a model."""
