"""What chilled inlet air alone would achieve."""
