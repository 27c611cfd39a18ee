"""One export format a file: the file's name is the format's, and its ``FORMAT`` says the rest."""
