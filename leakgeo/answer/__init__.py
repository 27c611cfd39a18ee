"""The answer about one line: a job kept read, for a panel that asks again after every stop."""
