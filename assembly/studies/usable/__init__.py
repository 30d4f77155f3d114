"""The usable range: where every rule holds, also beyond the range of the file, and what ends it."""
