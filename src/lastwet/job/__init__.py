"""See DEVELOPERS.md for what this room holds."""
