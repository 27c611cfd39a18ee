"""Jobs from somebody who means harm: nothing is run, reached for, or written elsewhere."""
