"""Matching a case to what was logged: least squares, step responses, unknowns and their uncertainty."""
