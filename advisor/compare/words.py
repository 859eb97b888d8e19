"""A difference as one plain sentence: what it is about, what it is called, the old value and the new one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.compare.labels import EMPTY, KINDS, LABELS, SUBJECTS, VALUES
from advisor.compare.meaning import below
from advisor.compare.records import Kind
from advisor.site import shape
from advisor.site.wording import MOST_SHOWN, plainly
from advisor.site.yaml_reader import Path

NOT_TOLD = "not told"
MOST_SETTINGS = 4
"""So many settings of a new or removed entry are told."""


def told(kind: Kind, path: Path, pattern: str, old: Any, new: Any, parts: tuple[Path, ...]) -> str:
    """The sentence for a difference; values as `meaning` gives them, blocks and groups of fields as mappings."""
    if kind == "renamed":
        return f"{thing(path, pattern, old)} is probably called {new} now"
    if pattern.endswith(".*") and pattern not in LABELS:
        return _entry(kind, path, pattern, new if kind == "added" else old)
    if pattern == "nodes.*.uplink" or pattern.endswith((".paths.*", ".openings.*", ".cables.*")):
        return _block(kind, path, pattern, old, new)
    names = {str(part[-1]) for part in parts}
    if isinstance(old, Mapping) and isinstance(new, Mapping) and names <= old.keys():
        return f"{subject(path, pattern)}: {_group(path, pattern, names, old, new)}"
    return f"{subject(path, pattern)}: {setting(path, pattern, old, new)}"


# subjects


def ids(path: Path, pattern: str) -> list[str]:
    """The ids on the way."""
    return [plainly(str(step)) for step, word in zip(path, pattern.split("."), strict=True) if word == "*"]


def subject(path: Path, pattern: str, words: Mapping[str, str] = SUBJECTS) -> str:
    """What a setting belongs to: `gateway.r5`, `network yard`, `the internet line`."""
    steps = pattern.split(".")
    for length in range(len(steps), 0, -1):
        found = words.get(".".join(steps[:length]))
        if found:
            return found.format(*ids(path, pattern))
    return ".".join(plainly(str(step)) for step in path[:-1]) or "the file"


def thing(path: Path, pattern: str, last: str | None = None) -> str:
    """An entry by kind and id, the id as given: `node stair`, `place tables`, `opening door of wall front …`."""
    path = path if last is None else (*path[:-1], last)
    if pattern in KINDS:
        return KINDS[pattern].format(*ids(path, pattern))
    if pattern in SUBJECTS:
        return SUBJECTS[pattern].format(*ids(path, pattern))
    return f"{subject(path[:-1], pattern.rpartition('.')[0])}: {_label(path, pattern)}"


# values


def value(it: Any, pattern: str) -> str:
    """A value in the words of the trade, without its unit."""
    if it is None:
        return NOT_TOLD
    if isinstance(it, bool):
        return "yes" if it else "no"
    if isinstance(it, int):
        return str(it)
    if isinstance(it, float):
        return f"{it:.10g}"
    if isinstance(it, Mapping):
        return ", ".join(f"{plainly(str(key))} {value(item, '')}" for key, item in it.items()) or "nothing"
    if isinstance(it, (list, tuple)):
        return _listed(it, pattern)
    return VALUES.get(pattern, {}).get(str(it)) or plainly(str(it)) or EMPTY.get(pattern, "empty")


def _listed(items: Any, pattern: str) -> str:
    if not items:
        return EMPTY.get(pattern, "none")
    if pattern.endswith((".at", ".size_m")) or pattern == "choices.positions.*.*":
        return _point(items)
    shown = [_point(item) if isinstance(item, list) else value(item, pattern) for item in items]
    rest = len(shown) - MOST_SHOWN
    return ", ".join(shown) if rest <= 0 else ", ".join(shown[:MOST_SHOWN]) + f" and {rest} more"


def _point(items: Any) -> str:
    numbers = [value(item, "") for item in items if not isinstance(item, str)]
    floor = [item for item in items if isinstance(item, str)]
    return f"({', '.join(numbers)})" + (f" on {plainly(floor[0])}" if floor else "")


def unit(path: Path) -> str:
    """The unit the schema gives a field."""
    field = shape.field_at(path)
    return str(field[1].get("unit", "")) if field else ""


def with_unit(it: Any, path: Path, pattern: str) -> str:
    """A value with its unit; words alone without one."""
    measure = unit(path) if _measured(it, pattern) else ""
    return value(it, pattern) + (f" {measure}" if measure else "")


def _measured(it: Any, pattern: str) -> bool:
    return it is not None and it not in ([], "") and str(it) not in VALUES.get(pattern, {})


def arrow(old: Any, new: Any, path: Path, pattern: str) -> str:
    """`20 → 14 dBm`, `not told → 14 dBm`, `14 dBm → not told`."""
    before, after = value(old, pattern), value(new, pattern)
    if before == after:
        before, after = _apart(str(old), str(new)) if isinstance(old, str) else _apart_lists(old, new)
    measure = unit(path)
    if measure and _measured(new, pattern):
        after += f" {measure}"
    elif measure and _measured(old, pattern):
        before += f" {measure}"
    return f"{before} → {after}"


def _apart(old: str, new: str) -> tuple[str, str]:
    """Two long texts from where they begin to differ."""
    at = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    at = max(at - 5, 0)
    return "…" + plainly(old[at:]), "…" + plainly(new[at:])


def _apart_lists(old: Any, new: Any) -> tuple[str, str]:
    """Two long lists by what only one of them has."""
    gone = [item for item in old if item not in new]
    come = [item for item in new if item not in old]
    return (
        f"{len(old)} of them with {_listed(gone, '') if gone else 'nothing else'}",
        f"{len(new)} of them with {_listed(come, '') if come else 'nothing else'}",
    )


# settings


def _label(path: Path, pattern: str) -> str:
    """What a setting is called; by its meaning in the schema where the trade has no shorter word here."""
    if pattern in LABELS:
        return LABELS[pattern].format(*ids(path, pattern))
    field = shape.field_at(path)
    meaning = str(field[1].get("description", "")) if field else ""
    first = meaning.split(". ")[0].rstrip(".") or plainly(str(path[-1])).replace("_", " ")
    last = f" ({plainly(str(path[-1]))})" if pattern.endswith(".*") else ""
    return first[:1].lower() + first[1:] + last + ":"


def setting(path: Path, pattern: str, old: Any, new: Any) -> str:
    """`channel 36 → 100`."""
    if pattern == "networks.*.generation" and None not in (old, new) and new > old:
        return f"new password (generation {old} → {new})"
    return f"{_label(path, pattern)} {arrow(old, new, path, pattern)}"


def _group(path: Path, pattern: str, names: set[str], old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """Several fields of one thing told together."""
    home, above = path[:-1], pattern.rpartition(".")[0]
    if "count" in old:
        return _counts(home, above, names, old, new)
    if "eirp_dbm" in old and len(names) > 1:
        return f"power {_powers(old)} → {_powers(new)}"
    told = [setting((*home, name), below(above, name), old[name], new[name]) for name in old if name in names]
    return ", ".join(told)


def _counts(home: Path, above: str, names: set[str], old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    parts = [f"{old['count']} → {new['count']} devices"] if "count" in names else []
    if "active" in names:
        before, after = (str(it["active"]) if it["active"] is not None else "all" for it in (old, new))
        parts.append(f"{before} → {after} of them active")
    return ", ".join(parts)


def _powers(radio: Mapping[str, Any]) -> str:
    ways = (("eirp_dbm", "radiated"), ("conducted_dbm", "into the antenna"))
    given = [f"{value(radio[name], '')} dBm {how}" for name, how in ways if radio[name] is not None]
    return " and ".join(given) or NOT_TOLD


# blocks told as one


def _block(kind: Kind, path: Path, pattern: str, old: Any, new: Any) -> str:
    if pattern == "nodes.*.uplink":
        return _uplink_told(subject(path, pattern), old, new)
    inside = {".paths.*": _way, ".openings.*": _opening, ".cables.*": _cable}
    describe = next(how for end, how in inside.items() if pattern.endswith(end))
    before = describe(old) if old is not None else NOT_TOLD
    after = describe(new) if new is not None else NOT_TOLD
    return f"{subject(path, pattern)}: {_label(path, pattern)} {before} → {after}"


def _uplink_told(node: str, old: Mapping[str, Any] | None, new: Mapping[str, Any] | None) -> str:
    if new is None:
        return f"{node}: no uplink any more (before: {uplink(old or {})})"
    if old is None:
        return f"{node}: it has an uplink now: {uplink(new)}"
    moved = any(old[name] != new[name] for name in ("to", "over", "band", "choice"))
    details = [name for name in ("radio", "speed_mbps", "length_m", "outdoor") if old[name] != new[name]]
    labels = {"radio": "radio", "speed_mbps": "speed", "length_m": "cable length", "outdoor": "runs outside:"}
    path, pattern = ("nodes", node, "uplink"), "nodes.*.uplink"
    extra = [f"{labels[name]} {arrow(old[name], new[name], (*path, name), below(pattern, name))}" for name in details]
    if moved:
        extra = [
            f"{labels[name]} {with_unit(new[name], (*path, name), below(pattern, name))}"
            if old[name] is None
            else words
            for name, words in zip(details, extra, strict=True)
        ]
    if not moved:
        return f"{node}: uplink, {', '.join(extra)}"
    before = uplink(old, to=old["to"] != new["to"])
    return f"{node}: its uplink now goes {uplink(new)} (before: {before})" + (f"; {', '.join(extra)}" if extra else "")


def uplink(it: Mapping[str, Any], *, to: bool = True) -> str:
    """`to gateway over the air on 5 GHz`."""
    over = VALUES["nodes.*.uplink.over"][it.get("over", "radio")]
    parts = [f"to {plainly(it['to'])}"] if to and it.get("to") else []
    parts += ["to a node not told"] if to and not it.get("to") and it.get("choice") != "node" else []
    parts.append(f"over {over}")
    parts += [f"on {it['band']} GHz"] if it.get("band") else []
    if it.get("choice") == "node":
        open_ = [word for word, name in (("parent", "to"), ("band", "band")) if not it.get(name)]
        parts.append(f", {' and '.join(open_)} left to the node" if open_ else ", left to the node")
    return " ".join(parts).replace(" ,", ",")


def _way(it: Mapping[str, Any]) -> str:
    through = f" through {_listed(it['through'], '')}" if it["through"] else ""
    return f"{value(it['distance_m'], '')} m{through}" + (" and nothing else" if it["complete"] else "")


def _opening(it: Mapping[str, Any]) -> str:
    return f"{plainly(it['of'])} from {value(it['from_m'], '')} to {value(it['to_m'], '')} m"


def _cable(it: Mapping[str, Any]) -> str:
    length = f", {value(it['length_m'], '')} m" if it["length_m"] is not None else ""
    return f"{plainly(it['node'])} to {plainly(it['to'])}{length}, {value(it['speed_mbps'], '')} Mb/s"


# entries that come and go


def _entry(kind: Kind, path: Path, pattern: str, it: Any) -> str:
    what = summary(path, pattern, it)
    if kind == "added":
        return f"{thing(path, pattern)} is new" + (f": {what}" if what else "")
    return f"{thing(path, pattern)} is gone" + (f" (it was: {what})" if what else "")


def summary(path: Path, pattern: str, it: Mapping[str, Any]) -> str:
    """What an entry is, in a few words."""
    if pattern in ("neighbours.*", "nodes.*.radios.*"):
        number = it["channel"]
        known = f"channel {value(number, 'nodes.*.radios.*.channel')} " if number is not None else ""
        return f"{known}in {it['band']} GHz"
    if pattern == "nodes.*":
        wires = f", uplink {uplink(it['uplink'])}" if it["uplink"] else ""
        return value(it["role"], "nodes.*.role") + wires
    if pattern == "places.*":
        return f"{it['count']} × {plainly(it['client'])}"
    found = [
        f"{_label((*path, name), below(pattern, name))} {with_unit(item, (*path, name), below(pattern, name))}"
        for name, item in it.items()
        if item not in (None, [], {}, "", False) and not isinstance(item, Mapping)
    ]
    return ", ".join(found[:MOST_SETTINGS])
