"""Positions on the pipe: chainage, assignment to lines, tape and satellite positions combined."""
