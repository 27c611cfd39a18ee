"""Evidence from compressed air injected into the line."""
