"""A run: the chain of steps, chunks of a large job, processes and clusters, the journal."""
