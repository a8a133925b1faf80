"""Where a cold plate does best."""
