"""``map.html``: one page that needs no network."""
