"""Every module that registers facts; importing this one fills the catalogue."""

from advisor.facts import equipment, hearing, hops, joins, names, needs, places

__all__ = ["equipment", "hearing", "hops", "joins", "names", "needs", "places"]
