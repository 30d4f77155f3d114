"""Wheels: how they point, and how the machine stands on its road."""
