"""What heat pipes carry, may carry, and what is left when one is lost."""
