"""Facts and evidence to findings; limits are data."""
