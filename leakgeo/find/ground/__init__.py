"""What the lines of a job teach about the ground: the law of its noise."""
