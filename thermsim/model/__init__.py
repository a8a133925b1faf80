"""From a checked case to capacities and links."""
