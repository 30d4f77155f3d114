"""The stops of a machine: designed, proven, and as a record."""
