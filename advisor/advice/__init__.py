"""Advice: alternatives tried on a copy of the site, computed again, and compared."""
