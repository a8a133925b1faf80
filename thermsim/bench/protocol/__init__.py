"""What to do on the bench, as a checklist made from the case."""
