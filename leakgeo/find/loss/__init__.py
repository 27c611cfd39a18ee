"""What a line loses by its meter tests, and through what hole."""
