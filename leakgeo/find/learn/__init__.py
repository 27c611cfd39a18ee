"""Learning from digs: hit rates, and a calibration of zones."""
