"""One question per file; a study asks the floors below and none of the others."""
