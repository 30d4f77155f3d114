"""A record in words."""
