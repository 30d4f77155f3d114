"""Pictures and films of a machine at its settings."""
