"""Views of a record: text for terminals and logs, pictures. They compute nothing."""
