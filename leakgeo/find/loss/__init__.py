"""Loss of water by meter tests, and the equivalent hole."""
