"""The page: one file that holds what all studies found."""
