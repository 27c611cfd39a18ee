"""Sound levels: decibel arithmetic, comparable levels, spreading, and the assumed constants."""
