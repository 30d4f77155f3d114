"""Stops: where they must stand, how they are struck, and the proof that they are."""
