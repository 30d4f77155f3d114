"""What ``swingroom nightly`` is made of: the files, the lock, the folder, one file, the night."""
