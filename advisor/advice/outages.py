"""The outages of a site, played out and put in order for people: which tell something, what they come to."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from math import inf
from typing import Literal

from advisor.errors import InputError, Position, Problem
from advisor.facts.book import Book
from advisor.facts.outage_net import Supplied, supplied
from advisor.facts.outages import by_hand, declared, play, usual
from advisor.outage import graph
from advisor.outage.records import WORST, Happening, Outcome, State
from advisor.outage.scenarios import EVERYTHING
from advisor.trace import Assumed

Section = Literal["from the file", "power", "names and passwords", "the air", "boxes lost"]
SECTIONS: tuple[Section, ...] = ("from the file", "power", "names and passwords", "the air", "boxes lost")
NEEDS_SOMEBODY: tuple[State, ...] = ("after a hand", "cut off", "stranded")


@dataclass(frozen=True)
class Told:
    """One outage with its outcome at typical, longest and shortest times."""

    section: Section
    happening: Happening
    typical: Outcome
    longest: Outcome
    shortest: Outcome
    plain: bool
    """True where it only adds up what its parts bring alone."""

    @property
    def somebody(self) -> tuple[str, ...]:
        """Boxes that need a person; not those stolen, and not a new box that is being set up."""
        return tuple(
            name
            for name, end in self.typical.boxes.items()
            if end.state in NEEDS_SOMEBODY and name not in self.happening.replaced
        )

    @property
    def back_s(self) -> tuple[float, float, float]:
        """Until all that comes back by itself is back: typical, shortest, longest."""
        return self.typical.longest_s, self.shortest.longest_s, self.longest.longest_s

    @property
    def dark(self) -> tuple[str, ...]:
        """Places without service while the cause lasts."""
        return self.typical.dark

    @property
    def lost(self) -> tuple[str, ...]:
        """Places that had service and do not get it back by themselves."""
        return tuple(name for name, end in self.typical.places.items() if end.back_s == inf and not end.left_without)


@dataclass(frozen=True)
class Outages:
    """All outages of a site."""

    told: tuple[Told, ...]
    takes_along: dict[str, tuple[str, ...]]
    """Boxes that take others along."""
    circles: tuple[tuple[str, ...], ...]
    """Boxes that feed each other."""
    missing: tuple[str, ...]
    """What the file would have to tell before all boxes can be judged."""
    before: tuple[tuple[str, str], ...]
    """Boxes and places that have no way up or no service before anything happens."""
    assumed: tuple[str, ...]
    by_hand: tuple[str, ...]
    """Boxes at which a person enters new settings."""

    @property
    def longest(self) -> Told | None:
        """The outage after which it takes longest until all that comes back is back."""
        return max(self.told, key=lambda entry: round(entry.back_s[0], 3), default=None)


def outages(
    book: Book, wanted: str | None = None, most: int | None = None, progress: Callable[[int, int], None] | None = None
) -> Outages:
    """Play out the outages of a site, or the one wanted. Raises InputError for a name there is not."""
    found = usual(book, most)
    own = declared(book)
    if wanted is not None:
        if wanted not in found:
            raise _unknown(wanted, found)
        found = {wanted: found[wanted]}
    told: dict[str, Told] = {}
    for number, (name, happening) in enumerate(found.items(), 1):
        typical, longest, shortest = play(book, happening)
        section: Section = "from the file" if name in own else _section(happening)
        plain = section in ("power", "names and passwords") and _adds_up(happening, typical, told.values())
        told[name] = Told(section, happening, typical, longest, shortest, plain)
        if progress is not None:
            progress(number, len(found))
    net, rests = supplied(book).net, supplied(book)
    steady = next(iter(told.values())).typical if told else None
    return Outages(
        told=tuple(sorted(told.values(), key=lambda entry: SECTIONS.index(entry.section))),
        takes_along={name: others for name, others in graph.takes_along(net).items() if others},
        circles=tuple(graph.power_circles(net)),
        missing=tuple(dict.fromkeys(reason for reasons in rests.missing.values() for reason in reasons)),
        before=_before(steady),
        assumed=tuple(dict.fromkeys(_words(rests))),
        by_hand=tuple(by_hand(net)),
    )


def _words(rests: Supplied) -> Iterable[str]:
    """What was assumed, the same of several boxes in one line."""
    boxes: dict[tuple[str, str], list[str]] = {}
    for box, entries in rests.assumed.items():
        for entry in entries:
            if isinstance(entry.by, Assumed):
                boxes.setdefault((entry.by.entry.removeprefix(f"{box} "), entry.by.source), []).append(box)
    for (told, source), names in boxes.items():
        about = f"{', '.join(names)}: " if any(names) else ""
        yield f"{about}{told}; {source}"


def _section(happening: Happening) -> Section:
    if happening.changed:
        return "names and passwords"
    if happening.gone or happening.replaced:
        return "boxes lost"
    return "the air" if happening.radar or happening.jammed else "power"


def _adds_up(happening: Happening, outcome: Outcome, before: Iterable[Told]) -> bool:
    """Whether several boxes off together bring no more than each of them alone: no box ends worse, no further place is
    without service, and nothing takes longer."""
    if not happening.off or happening.id == EVERYTHING:
        return False
    alone = [
        entry
        for entry in before
        if len(entry.happening.off) == 1
        and entry.happening.off[0] in happening.off
        and entry.happening.changed == happening.changed
        and entry.happening.minutes == happening.minutes
        and not (entry.happening.gone or entry.happening.replaced)
    ]
    if {entry.happening.off[0] for entry in alone} != set(happening.off):
        return False
    worst = {name: max(WORST.index(entry.typical.boxes[name].state) for entry in alone) for name in outcome.boxes}
    dark = {name for entry in alone for name in entry.dark}
    mine = set(outcome.dark)
    longest = max(round(entry.typical.longest_s, 3) for entry in alone)
    return (
        all(WORST.index(end.state) <= worst[name] for name, end in outcome.boxes.items())
        and mine <= dark
        and round(outcome.longest_s, 3) <= longest
    )


def _before(outcome: Outcome | None) -> tuple[tuple[str, str], ...]:
    if outcome is None:
        return ()
    boxes = [(name, end.why) for name, end in outcome.boxes.items() if end.state == "unharmed" and end.back_s == inf]
    places = [(name, "no radio it can join serves it") for name, end in outcome.places.items() if end.left_without]
    return (*boxes, *places)


def _unknown(wanted: str, found: Iterable[str]) -> InputError:
    near = get_close_matches(wanted, list(found), 1)
    hint = f'Did you mean "{near[0]}"? ' if near else ""
    what = f'there is no outage "{wanted}" for this site'
    help = f"{hint}`advisor outage SITE` lists them; more boxes off at once with --together."
    return InputError("outage", [Problem(Position(0, 0), what, help)])
