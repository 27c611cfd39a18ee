"""The browser of `tests/browser`, for pages of the site."""

from tests.browser.conftest import browser

__all__ = ["browser"]
