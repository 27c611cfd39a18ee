"""Positions on the pipe: chainage, assigning readings to lines, fusing tape and satellite."""
