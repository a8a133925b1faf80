"""File names made from names in a case: kept in `case`, which refuses names that would share a file."""

from thermsim.case.names import slug

__all__ = ["slug"]
