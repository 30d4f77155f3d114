"""What sweeps found, kept on disk, so that the next one computes only what an edit has touched.

It only saves time: whoever deletes the file loses nothing. The history keeps the runs, not this.
"""
