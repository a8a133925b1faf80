"""The reduced transient engine: a few fields that span a whole history, found from one or two factorisations."""
