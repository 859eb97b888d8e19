"""The client on its way, step by step: it hears, looks around, decides, changes, or loses what it had.

All draws take a step at once. A client is in one of four states: joined, joined and looking around, changing (nothing
passes), or searching after its link was lost (nothing passes).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.walk.chance import Chance, correlated, share_lost
from advisor.walk.handover import TERMS, gap_parts_s, look_around
from advisor.walk.records import NONE, Array, Behaviour, Bools, Change, Ints, OnWay, Track, Trail

JOINED, LOOKING, CHANGING, SEARCHING = range(4)
BEFORE = {
    "looked": "lost link",
    "asked": "lost link",
    "lost": "lost link and search",
    "thrown off": "search after it was thrown off",
}
"""What nothing passed for already when a change begins, by why it does."""
UNHEARD = -200.0
"""Level in dBm, and margin in dB, of what is not heard at all."""
MOST_EVENTS = 64
"""Changes, and looks, with draws of their own; later ones share those of the last."""


def follow(trail: Trail, client: Behaviour, chance: Chance) -> Track:
    """Follow the client over the whole way, in every draw."""
    return _Walker(trail, client, chance).run()


def heard(trail: Trail, chance: Chance) -> Array:
    """What is added to every level by what the model does not see, dB, draws × radios × steps: per node along the way,
    mostly common to its bands."""
    row = catalogue("walking")["shadow"]
    apart_m, common = float(row["correlation_m"]["value"]), float(row["common"]["value"])
    nodes = {
        node: correlated(chance, trail.walked_m, apart_m, "shadow", trail.walk, node)
        for node in {radio.node for radio in trail.radios}
    }
    rows = []
    for radio, sigma in zip(trail.radios, trail.sigma_db, strict=True):
        own = correlated(chance, trail.walked_m, apart_m, "shadow", trail.walk, radio.node, radio.band)
        rows.append(sigma * (np.sqrt(common) * nodes[radio.node] + np.sqrt(1.0 - common) * own))
    return np.stack(rows, axis=1) if rows else np.zeros((chance.count, 0, len(trail.times_s)))


class _Walker:
    """State of all draws."""

    def __init__(self, trail: Trail, client: Behaviour, chance: Chance) -> None:
        self.trail, self.client, self.chance = trail, client, chance
        self.data: dict[str, Any] = catalogue("walking")
        added = heard(trail, chance)
        self.level = np.maximum(trail.level_dbm, UNHEARD)[None] + added
        self.margin = np.maximum(trail.margin_db, UNHEARD)[None] + added
        self.up = np.maximum(trail.up_dbm, UNHEARD)[None] + added
        count, steps = chance.count, len(trail.times_s)
        self.rows = np.arange(count)
        self.state = np.full(count, JOINED)
        self.until = np.zeros(count)
        self.serving = np.full(count, NONE)
        self.target = np.full(count, NONE)
        self.next_look = np.zeros(count)
        self.low_since = np.full(count, np.inf)
        self.weak_since = np.full(count, np.inf)
        self.asked = np.zeros(count, dtype=bool)
        self.thrown = np.zeros(count, dtype=bool)
        self.gone_since = np.full(count, np.inf)
        self.changes: list[list[Change]] = [[] for _ in range(count)]
        self.dead = np.zeros(count, dtype=bool)
        self.same_name = np.array(
            [[bool(one.names & other.names) for other in trail.radios] for one in trail.radios], dtype=bool
        ).reshape(len(trail.radios), len(trail.radios))
        self.bonus = np.array([self._preferred(radio) for radio in trail.radios])
        self.served = np.full((count, steps), NONE)
        self.gap = np.zeros((count, steps))
        self.loss = np.zeros((count, steps))
        self.delay = np.zeros((count, steps))
        self.seen = np.full((count, steps), -np.inf)
        lost = self.data["lost_link"]
        self.detect_s = self._drawn(lost["detect_s"], "pace") + self._drawn(lost["probe_s"], "pace")
        self.search_known_s = self._drawn(lost["search_known_s"], "pace")
        self.search_all_s = self._spread(lost["search_all_s"], "pace")
        self.ask_s = self._drawn(self.data["asked"]["after_s"], "asked")
        self.has_list = np.array([radio.k and client.k for radio in trail.radios], dtype=bool)
        self.hears_requests = np.array([radio.v and client.v for radio in trail.radios], dtype=bool)
        self.floor = np.array([-np.inf if r.drops_below_dbm is None else r.drops_below_dbm for r in trail.radios])
        self.left = np.zeros(count, dtype=np.int64)
        self.looked = np.zeros(count, dtype=np.int64)
        self.terms = {term: chance.uniforms(MOST_EVENTS, trail.walk, "change", term) for term in TERMS}
        self.looks = chance.uniforms(MOST_EVENTS, trail.walk, "look")
        self.late = np.zeros(count)
        self.waits_ms = np.zeros(count)

    def _preferred(self, radio: OnWay) -> float:
        wanted = {"5-up": ("5", "6"), "2.4": ("2.4",)}.get(self.client.preference, ())
        return float(self.data["levels"]["preference_db"]["value"]) if radio.band in wanted else 0.0

    def _drawn(self, row: dict[str, Any], *key: object) -> Array:
        share = self.chance.uniform(self.trail.walk, *key)
        result: Array = float(row["low"]) + (float(row["high"]) - float(row["low"])) * share
        return result

    def _spread(self, row: dict[str, Any], *key: object) -> Array:
        """As `_drawn`, even in the logarithm: most are near the low end."""
        share = self.chance.uniform(self.trail.walk, *key)
        result: Array = float(row["low"]) * (float(row["high"]) / float(row["low"])) ** share
        return result

    def run(self) -> Track:
        if not self.trail.radios:
            self.gap[:] = self.trail.step_s
            return self._track()
        share = min(self.trail.step_s / float(self.data["levels"]["smoothed_s"]["value"]), 1.0)
        smooth = self.level[:, :, 0].copy()
        self.serving = self._best(self.rows, 0, None)
        for step, now in enumerate(self.trail.times_s.tolist()):
            smooth += share * (self.level[:, :, step] - smooth)
            self._end_of_states(step, now, smooth)
            self._look_or_lose(step, now, smooth)
            self._write(step, now)
        return self._track()

    def _track(self) -> Track:
        kept = tuple(tuple(row) for row in self.changes)
        return Track(self.served, self.gap, self.loss, self.delay, self.seen, kept, self.dead)

    def _worth(self, level: Array) -> Array:
        """Levels as the client weighs them: a preferred band counts more from a certain level on."""
        above = float(self.data["levels"]["prefer_5_above_dbm"]["value"])
        result: Array = level + np.where(level >= above, self.bonus, 0.0)
        return result

    def _best(self, rows: Ints, step: int, only: Bools | None) -> Ints:
        """The radio worth most of those that hold; NONE where none does."""
        worth = np.where(self.margin[rows, :, step] >= 0.0, self._worth(self.level[rows, :, step]), -np.inf)
        if only is not None:
            worth = np.where(only, worth, -np.inf)
        best = worth.argmax(axis=1)
        return np.where(np.isfinite(worth.max(axis=1)), best, NONE)

    def _end_of_states(self, step: int, now: float, smooth: Array) -> None:
        looked = self._over(LOOKING, now)
        if len(looked):
            self._decide(looked, step, now, smooth)
        changed = self._over(CHANGING, now)
        if len(changed):
            self.serving[changed] = self.target[changed]
            self.state[changed] = JOINED
            self.next_look[changed] = now
            self.low_since[changed] = self.gone_since[changed] = self.weak_since[changed] = np.inf
            self.thrown[changed] = False
            smooth[changed] = self.level[changed, :, step]
        searched = self._over(SEARCHING, now)
        if len(searched):
            best = self._best(searched, step, None)
            none = searched[best == NONE]
            self.until[none] = now + self.search_all_s[none]
            for why, rows in (("lost", ~self.thrown[searched]), ("thrown off", self.thrown[searched])):
                found = rows & (best != NONE)
                self._leave(searched[found], best[found], step, now, why)

    def _over(self, state: int, now: float) -> Ints:
        """Draws in which this state ends now; one that has only just begun does not."""
        rows: Ints = np.flatnonzero((self.state == state) & (self.until <= now + 1e-9))
        return rows

    def _decide(self, rows: Ints, step: int, now: float, smooth: Array) -> None:
        """Whether what was found is enough better than what is held."""
        here = self.serving[rows]
        only = self.same_name[here].copy()
        only[np.arange(len(rows)), here] = False
        best = self._best(rows, step, only)
        worth = self._worth(self.level[rows, :, step])
        held = self._worth(smooth[rows])[np.arange(len(rows)), here]
        found = np.where(best != NONE, worth[np.arange(len(rows)), np.maximum(best, 0)], -np.inf)
        asked = self.asked[rows]
        moves = (best != NONE) & (found >= held + np.where(asked, 0.0, self.client.margin_db))
        self.asked[rows] = False
        stays = rows[~moves]
        self.state[stays] = JOINED
        self.next_look[stays] = now + float(self.data["look"][self.client.stickiness]["again_s"])
        for why, which in (("looked", ~asked), ("asked", asked)):
            self._leave(rows[moves & which], best[moves & which], step, now, why)

    def _leave(self, rows: Ints, targets: Ints, step: int, now: float, why: str) -> None:
        """Begin a change: how long it takes is drawn term by term."""
        number = np.minimum(self.left, MOST_EVENTS - 1)
        self.left[rows] += 1
        for old, new in sorted(set(zip(self.serving[rows].tolist(), targets.tolist(), strict=True))):
            chosen = rows[(self.serving[rows] == old) & (targets == new)]
            before = self.trail.radios[old] if old != NONE else None
            after = self.trail.radios[new]
            known = before if before is not None and before.names & after.names else None
            margin = self.margin[chosen, new, step]
            drawn = {term: values[chosen, number[chosen]] for term, values in self.terms.items()}
            parts = gap_parts_s(self.client, known, after, margin, drawn)
            total = np.sum(list(parts.values()), axis=0)
            self.until[chosen] = now + total
            self.target[chosen] = new
            self.state[chosen] = CHANGING
            if before is not None and before.router != after.router:
                self.dead[chosen] = True
            for index, row in enumerate(chosen.tolist()):
                silent = float(now - self.gone_since[row]) if np.isfinite(self.gone_since[row]) else 0.0
                told = {BEFORE[why]: round(silent * 1e3, 1)} if silent else {}
                told |= {name: round(float(part[index]) * 1e3, 1) for name, part in parts.items()}
                level = self.level[row, old, step] if old != NONE else -np.inf
                self.changes[row].append(
                    Change(
                        now - silent, float(total[index]) + silent, old, new, why, float(level),
                        float(self.level[row, new, step]), told,
                    )
                )  # fmt: skip

    def _look_or_lose(self, step: int, now: float, smooth: Array) -> None:
        joined = (self.state == JOINED) | (self.state == LOOKING)
        here = np.maximum(self.serving, 0)
        none = joined & (self.serving == NONE)
        margin = np.where(none, -np.inf, self.margin[self.rows, here, step])
        gone = joined & (margin < float(self.data["levels"]["lost_below_db"]["value"]))
        self.gone_since = np.where(gone | ~joined, np.minimum(self.gone_since, now), np.inf)
        lost = gone & (now - self.gone_since >= self.detect_s - 1e-9)
        self._search(lost, here, self.gone_since + self.detect_s)
        self._thrown_off(joined & ~lost & (self.serving != NONE), here, step, now)
        joined &= self.state != SEARCHING
        low = joined & (smooth[self.rows, here] < self.client.look_below_dbm)
        self.low_since = np.where(low, np.minimum(self.low_since, now), np.inf)
        after = float(self.data["look"][self.client.stickiness]["after_s"])
        hears = (self.state == JOINED) & ~gone
        looks = hears & low & (now - self.low_since >= after - 1e-9) & (self.next_look <= now + 1e-9)
        weak = joined & self.hears_requests[here] & (self.up[self.rows, here, step] < self._asked_below())
        self.weak_since = np.where(weak, np.minimum(self.weak_since, now), np.inf)
        asks = hears & ~looks & weak & (now - self.weak_since >= self.ask_s - 1e-9)
        self.asked[asks] = True
        self.weak_since[asks] = now
        looks = looks | asks
        for radio in sorted(set(self.serving[looks].tolist()) - {NONE}):
            rows = np.flatnonzero(looks & (self.serving == radio))
            drawn = self.looks[rows, np.minimum(self.looked[rows], MOST_EVENTS - 1)]
            self.looked[rows] += 1
            self.state[rows] = LOOKING
            look = look_around(self.client, self.trail.radios[radio], self.trail.radios, drawn)
            self.until[rows] = now + look.seconds
            self.late[rows], self.waits_ms[rows] = look.late, look.delay_ms

    def _asked_below(self) -> float:
        return float(self.data["asked"]["below_dbm"]["value"])

    def _thrown_off(self, joined: Bools, here: Ints, step: int, now: float) -> None:
        """A node that hears its client below a level of its own ends the association; the client searches at once."""
        off = joined & (self.up[self.rows, here, step] < self.floor[here])
        self.thrown[off] = True
        self.gone_since[off] = now
        self._search(off, here, self.gone_since)

    def _search(self, begins: Bools, here: Ints, from_s: Array) -> None:
        """Search for any radio: first the list the node gave (802.11k), if it gave one."""
        listed = self.has_list[here] & (self.serving != NONE)
        seconds = np.where(listed, self.search_known_s, self.search_all_s)
        self.state[begins] = SEARCHING
        self.asked[begins] = False
        self.until[begins] = (from_s + seconds)[begins]

    def _write(self, step: int, now: float) -> None:
        """What this step is like: who serves, what passes."""
        joined = ((self.state == JOINED) | (self.state == LOOKING)) & (self.serving != NONE)
        here = np.maximum(self.serving, 0)
        margin = self.margin[self.rows, here, step]
        fading = float(self.data["fading_sigma_db"]["value"])
        own = np.array([radio.worse_loss for radio in self.trail.radios])
        delays = np.array([radio.worse_delay_ms for radio in self.trail.radios])
        gone = joined & (margin < float(self.data["levels"]["lost_below_db"]["value"]))
        self.served[:, step] = np.where(joined, self.serving, NONE)
        left = np.clip(self.until - now, 0.0, self.trail.step_s)
        silent = np.where(self.state == CHANGING, left, self.trail.step_s)
        self.gap[:, step] = np.where(joined & ~gone, 0.0, np.where(gone, self.trail.step_s, silent))
        looking = np.where(self.state == LOOKING, left / self.trail.step_s, 0.0)
        passes = (1.0 - share_lost(margin, fading)) * (1.0 - own[here]) * (1.0 - looking * self.late)
        self.loss[:, step] = np.where(joined & ~gone, 1.0 - passes, 0.0)
        self.delay[:, step] = delays[here] + looking * self.waits_ms
        self.seen[:, step] = np.where(joined, self.level[self.rows, here, step], -np.inf)
