"""The page at the bench: templates rendered here, no build step, nothing fetched from elsewhere."""
