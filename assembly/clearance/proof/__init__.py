"""The proof over the whole range: bounds with their terms, cells, the search of every pair, joint and rod."""
