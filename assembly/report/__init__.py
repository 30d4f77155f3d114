"""Views of a record: words, pictures, charts, the page, files for other programs. They compute nothing."""
