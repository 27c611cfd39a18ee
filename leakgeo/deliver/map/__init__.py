"""map.html: one page that opens with no network."""
