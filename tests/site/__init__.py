"""The documentation site: its build, its generated reference, and the blocks of its pages."""
