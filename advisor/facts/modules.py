"""Every module that registers facts; importing this one fills the catalogue."""

from advisor.facts import domains, equipment, hearing, hops, joins, names, needs, places, radiation, uses, wires

__all__ = ["domains", "equipment", "hearing", "hops", "joins", "names", "needs", "places", "radiation", "uses", "wires"]
