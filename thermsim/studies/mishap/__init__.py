"""What happens when something fails."""
