"""Where the leak is: survey bracket, profile, posterior, zones and mark, next readings."""
