"""From photo bytes to a `Reading` or a `Refusal`."""
