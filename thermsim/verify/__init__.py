"""Published checks through the same path as a user's case: what this installation computes beside what is printed."""
