"""Setting options side by side: what each achieves, which to take."""
