"""What sweeps found of pairs, kept on disk, so that the next sweep computes only what an edit has touched.

It only saves time: whoever deletes the file loses nothing. The history keeps the runs, not this.
"""

from assembly.cache.sqlite_cache import DiskMemory, cache_path, open_memory

__all__ = ["DiskMemory", "cache_path", "open_memory"]
