"""The fact book of one site: every fact on demand, computed once.

A book is bound to one reading of the site: uplinks left to the equipment run as the strongest option unless `fixed`
says otherwise; `variants` gives a book for each other way such an uplink may run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

from advisor import subjects
from advisor.errors import FactError
from advisor.facts import catalogue
from advisor.facts.draws import Draws
from advisor.network.contention import Cell, cells
from advisor.network.geometry import Building
from advisor.network.graph import Hop, chain
from advisor.network.inventory import Inventory, RadioUnit, Secondary, Source
from advisor.subjects import Subject
from advisor.trace import Fact

T = TypeVar("T")


class Tuning(NamedTuple):
    """A channel a radio is set to, for trying it out."""

    channel: int | None
    width_mhz: int
    secondary: Secondary | None = None


MOST_OPTIONS = 4
"""Options followed for an uplink left to the equipment: the strongest ones."""
WHATEVER_CHANNEL = frozenset(
    {"between", "detour", "receiver", "carriers", "clearance", "shadow", "aggregation", "grown", "stranger"}
)
"""Lasting results no channel changes; a detour names its frequency itself."""
GROUND = frozenset({"between", "detour", "along"})
"""Lasting results that hang on where ends and walls are, on nothing else."""
LEVELS = frozenset(
    {"path_loss", "shadow", "level", "receiver", "margin", "answer", "phy", "goodput", "call", "aggregation"}
)
"""Lasting results about one link that hang on ground, radios and clients, not on names, uplinks or wires."""
EVERY_CHANNEL = frozenset({"clients_near", "radio-pairs"})
"""Lasting results that hang on the channels of all radios though they name one or none."""


class Book:
    """Facts about one site. `draws`: the keyed random terms; `like`: the book whose lasting results are shared;
    `explain`: facts carry what is worth telling and costs time, such as every term of an exchange; `tuned`: radios
    tried on another channel than the file gives them, in place of what `like` tries; `ground`: a book of a site with
    the same walls and positions (and with `same_radios` the same radios, powers and clients, drawn alike), whose
    results about them are shared."""

    def __init__(
        self,
        source: Source,
        *,
        draws: Draws | None = None,
        fixed: Mapping[str, Hop] | None = None,
        like: Book | None = None,
        explain: bool = False,
        tuned: Mapping[str, Tuning] | None = None,
        ground: Book | None = None,
        same_radios: bool = False,
    ) -> None:
        self.source = source
        self.site = source.site
        self.draws = draws or Draws()
        before: Mapping[str, Tuning] = like.tuned if like else {}
        self.tuned: dict[str, Tuning] = dict(before if tuned is None else tuned)
        base: Inventory = like.inventory if like else Inventory(source)
        self.inventory: Inventory = base if self.tuned == before else base.tuned(self.tuned)
        on = like or ground
        self.building: Building = on.building if on else Building(source.site)
        self._ground: dict[Any, Any] = on._ground if on else {}
        self._shared: frozenset[str] = like._shared if like else GROUND | LEVELS if same_radios or not on else GROUND
        self.fixed = dict(fixed or {})
        self.explain = explain
        self._lasting: dict[Any, Any] = like._lasting if like else {}
        self._facts: dict[tuple[str, Subject, tuple[tuple[str, str], ...]], Fact] = {}
        self._memo: dict[Any, Any] = {}
        self._stamps: dict[Any, Any] = {}
        self._open: list[tuple[str, Subject]] = []
        self._variants: dict[tuple[str, str], Book] = {}

    def get(self, name: str, subject: Subject, **variant: str) -> Fact:
        """The fact `name` about a subject; variants left out take their first choice.

        Raises FactError for a fact the catalogue does not have about this kind of subject, for a wrong variant, and
        where a fact would need itself.
        """
        asked = (name, subject, tuple(sorted(variant.items())))
        if asked in self._facts:
            return self._facts[asked]
        spec = catalogue.lookup(subject.kind, name)
        if spec is None or spec.compute is None:
            raise FactError(name, f"there is no such fact about a {subject.kind}")
        chosen = {key: variant.pop(key, choices[0]) for key, choices in spec.variants.items()}
        wrong = [key for key, value in chosen.items() if value not in spec.variants[key]] or list(variant)
        if wrong:
            raise FactError(spec.key(subject), f"no variant {wrong[0]} of that kind")
        memo = (name, subject, tuple(sorted(chosen.items())))
        if memo not in self._facts:
            if (name, subject) in self._open[-60:] and len(self._open) > 400:
                raise FactError(spec.key(subject, **chosen), "it would need itself")
            self._open.append((name, subject))
            try:
                self._facts[memo] = spec.compute(self, subject, **chosen)
            finally:
                self._open.pop()
        self._facts[asked] = self._facts[memo]
        return self._facts[memo]

    def once(self, key: Any, compute: Callable[[], T]) -> T:
        """Something the facts share, computed once for this book."""
        if key not in self._memo:
            self._memo[key] = compute()
        result: T = self._memo[key]
        return result

    def kept_once(self, key: Any) -> Any:
        """What `once` has found under a key; None where it was not asked yet."""
        return self._memo.get(key)

    def kept_lasting(self, key: Any) -> Any:
        """What `lasting` has found under a key; None where it was not asked yet. Not for books with tuned radios."""
        return self._place_of(key).get(key)

    def lasting(self, key: Any, compute: Callable[[], T]) -> T:
        """Something that does not depend on how the uplinks run (levels, rates of a pair), shared with the variants.

        Where radios are tried on other channels it is kept for the channels of the radios the key names.
        """
        kept = self._place_of(key)
        if self.tuned:
            key = self._stamped(key)
        if key not in kept:
            kept[key] = compute()
        result: T = kept[key]
        return result

    def _place_of(self, key: Any) -> dict[Any, Any]:
        """Where a lasting result is kept: with those about walls and positions, or with the others."""
        kind = key[0] if isinstance(key, tuple) else key
        return self._ground if kind in self._shared else self._lasting

    def _stamped(self, key: Any) -> Any:
        """The key with the channels its result hangs on: of the radios it names, else of all that are tried."""
        if key in self._stamps:
            return self._stamps[key]
        kind = key[0] if isinstance(key, tuple) else key
        stamped = key
        if kind not in WHATEVER_CHANNEL:
            named = [] if kind in EVERY_CHANNEL else [name for name in words_in(key) if name in self.inventory.radios]
            stamp = tuple((name, self.tuned[name]) for name in named or sorted(self.tuned) if name in self.tuned)
            stamped = (key, stamp) if stamp else key
        self._stamps[key] = stamped
        return stamped

    @cached_property
    def options(self) -> dict[str, list[Hop]]:
        """For every uplink left to the equipment, the ways it may run, the strongest first."""
        found: dict[str, list[Hop]] = catalogue.build("options", self)
        return found

    @cached_property
    def open_nodes(self) -> list[str]:
        """Nodes whose uplink is left to the equipment and may run in more than one way, as this book reads them."""
        return [node for node, ways in self.options.items() if node not in self.fixed and len(ways) > 1]

    @cached_property
    def hops(self) -> dict[str, Hop]:
        """Every node's uplink as this book reads it."""
        chosen = {node: hops[0] for node, hops in self.options.items() if hops}
        return {**chosen, **catalogue.build("declared hops", self), **self.fixed}

    @cached_property
    def radios(self) -> dict[str, RadioUnit]:
        """The installed radios; one whose channel is automatic is on the channel of the parent it joins."""
        found = dict(self.inventory.radios)
        for hop in sorted(self.hops.values(), key=lambda hop: (len(chain(hop.node, self.hops)), hop.node)):
            if hop.air and hop.radio is not None and found[hop.radio].channel is None:
                parent = found[str(hop.parent_radio)]
                found[hop.radio] = replace(found[hop.radio], channel=parent.channel, secondary=parent.secondary)
        return found

    @cached_property
    def cells(self) -> dict[str, Cell]:
        return cells(self.radios, self.hops)

    def variants(self, node: str) -> dict[str, Book]:
        """A book for each way the open uplink of `node` may run, by option name; the others stay as they are."""
        result = {}
        for hop in self.options.get(node, []):
            if (node, hop.option) not in self._variants:
                fixed = {**{name: self.hops[name] for name in self.options if name in self.hops}, node: hop}
                self._variants[node, hop.option] = Book(
                    self.source, draws=self.draws, fixed=fixed, like=self, explain=self.explain
                )
            result[hop.option] = self._variants[node, hop.option]
        return result

    def subjects(self, kind: str) -> list[Subject]:
        """Every subject of a kind this site has, in order; pairs only where the two have to do with each other."""
        return self.once(("subjects", kind), lambda: subjects_of(self, kind))


def words_in(key: Any) -> list[str]:
    """Every text in a key, however deep it lies."""
    if isinstance(key, str):
        return [key]
    return [word for part in key for word in words_in(part)] if isinstance(key, tuple) else []


def subjects_of(book: Book, kind: str) -> list[Subject]:
    site = book.site
    if kind == "site":
        return [subjects.SITE]
    if kind in ("node", "place", "network", "need", "walk", "measured"):
        sections: dict[str, Mapping[str, Any]] = {
            "node": site.nodes,
            "place": site.places,
            "network": site.networks,
            "need": site.needs,
            "walk": site.walks,
            "measured": site.measured,
        }
        return [Subject(kind, (name,)) for name in sorted(sections[kind])]
    if kind == "path":
        ends = (*site.nodes.items(), *site.places.items())
        return [Subject(kind, pair) for pair in sorted({(end, node) for end, entry in ends for node in entry.paths})]
    if kind == "hop":
        return [subjects.hop(name) for name, node in sorted(site.nodes.items()) if node.role != "gateway"]
    if kind == "radio":
        return [Subject("radio", (name,)) for name in book.inventory.radios]
    if kind == "name":
        return [
            Subject("name", (name,)) for name in sorted({key_of_name(net.octets) for net in site.networks.values()})
        ]
    found: list[Subject] = catalogue.build(f"subjects {kind}", book) or []
    return found


def key_of_name(octets: bytes) -> str:
    """A network name as a subject id: its text where it is UTF-8, else hexadecimal."""
    try:
        return octets.decode()
    except UnicodeDecodeError:
        return "0x" + octets.hex()
