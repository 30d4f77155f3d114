"""Rods that are screwed together: lengths, threads, and what turning them does."""
