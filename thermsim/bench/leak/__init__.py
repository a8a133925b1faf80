"""Leak tests of a loop by the fall of its pressure: rates, their uncertainty, what a limit makes of them."""
