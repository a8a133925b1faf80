"""Before and after: what changed on the bench, how sure that is, and whether the model told the truth."""
