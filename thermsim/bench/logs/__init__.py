"""Logs of a bench: CSV files as loggers write them, read without guessing."""
