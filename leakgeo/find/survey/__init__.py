"""The first survey: from fittings listened to, to stretches to walk."""
