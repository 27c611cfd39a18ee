"""Large jobs in chunks of lines: several processes, memory by the chunk, and a journal."""
