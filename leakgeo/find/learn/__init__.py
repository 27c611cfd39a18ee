"""What digs teach: hit rates, and a calibration of zones."""
