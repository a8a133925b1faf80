"""Results on disk and in memory."""
