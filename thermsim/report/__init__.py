"""Figures, tables and the page, made from stored results."""
