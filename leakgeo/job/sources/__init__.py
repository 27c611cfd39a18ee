"""Where a job comes from: files of many layers, folders, databases, frames in memory."""
