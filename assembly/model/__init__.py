"""What the builder described: the machine as values, and the reader of mechanism files."""
