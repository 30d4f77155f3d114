"""Swingroom: finds out whether any part of a linkage strikes another, anywhere in its range of motion."""
