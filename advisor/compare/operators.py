"""Which operator of `data/operators.yaml` a difference is, and on what; `tell` where it only tells something else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from advisor.compare.records import Difference
from advisor.site.yaml_reader import Path
from advisor.subjects import SITE, Subject, hop, node, place, radio

RADIO = {
    "width_mhz": "set-width",
    "eirp_dbm": "set-power",
    "conducted_dbm": "set-power",
    "basic_rates_mbps": "set-basic-rates",
}
NETWORK = {"security": "set-security", "name": "rename", "name_hex": "rename"}
TELL = ("tell", SITE.key)


def operator_of(difference: Difference, path: Path) -> tuple[str, str]:
    """The operator and the key of its subject; `path` is that of the difference in the ids of the first file."""
    words = difference.pattern.split(".")
    if difference.pattern == "nodes.*":
        return ("add-node", SITE.key) if difference.kind == "added" else TELL
    if words[0] == "internet":
        return _internet(difference, words[-1])
    if len(words) < 3 or words[1] != "*":
        return TELL
    name = str(path[1])
    operator, subject = "tell", SITE
    if difference.pattern.startswith("nodes.*.radios.*."):
        operator, subject = _radio(difference, words[-1]), radio(name, str(path[3]))
    elif words[0] == "nodes":
        operator, subject = _node(difference, words[2:], name)
    elif words[0] == "networks":
        operator, subject = _network(difference, words[2:]), Subject("network", (name,))
    elif words[0] == "places":
        operator, subject = _place(difference, words[-1]), place(name)
    return TELL if operator == "tell" else (operator, subject.key)


def _internet(difference: Difference, field: str) -> tuple[str, str]:
    old, new = difference.before, difference.after
    if field == "queue" and new == "fair":
        return "fair-queue", SITE.key
    if field in ("down_mbps", "up_mbps") and old is not None and new is not None and new > old:
        return "faster-line", SITE.key
    return TELL


def _radio(difference: Difference, field: str) -> str:
    if field == "channel":
        if isinstance(difference.after, int):
            return "retune" if isinstance(difference.before, int) else "fix-channel"
        return "tell"
    return RADIO.get(field, "tell")


def _node(difference: Difference, words: list[str], name: str) -> tuple[str, Subject]:
    field, new = words[-1], difference.after
    if words == ["uplink"]:
        return _uplink(difference), hop(name)
    if len(words) == 1 and field in ("at", "floor", "room", "height_m"):
        given = difference.before
        given = any(it is not None for it in given.values()) if isinstance(given, Mapping) else given is not None
        return "move-node" if given and new is not None else "tell", node(name)
    if words == ["mode"]:
        return "bridge-mode" if new == "bridge" else "tell", node(name)
    if words == ["address_server"]:
        return "single-address-server" if new is False else "tell", node(name)
    if words == ["power", "source"]:
        return {"ups": "back-up-power", "poe": "feed-by-cable"}.get(str(new), "tell"), node(name)
    if words == ["backhaul", "credential"]:
        return "own-backhaul-credential" if new == "own" else "tell", node(name)
    if words == ["backhaul", "generation"]:
        return "renew-credential", hop(name)
    return "tell", node(name)


def _uplink(difference: Difference) -> str:
    old, new = difference.before, difference.after
    if difference.kind != "changed":
        return "tell"
    if new.get("over", "radio") != "radio":
        return "wire-hop"
    if new.get("choice") == "fixed":
        return "pin-uplink"
    if old.get("over", "radio") != "radio" or new.get("choice") == "node":
        return "tell"
    if new.get("to"):
        return "change-parent"
    if new.get("band"):
        return "change-uplink-band"
    return "reroute-cable" if old.get("length_m") and new.get("length_m") else "tell"


def _network(difference: Difference, words: list[str]) -> str:
    if words[0] == "aids":
        return "set-aids"
    if words == ["hidden"]:
        return "tell" if difference.after else "show-name"
    return NETWORK.get(words[0], "tell") if difference.after is not None else "tell"


def _place(difference: Difference, field: str) -> str:
    values: Any = difference.after
    if field == "traffic_class":
        return "voice-class" if values == "voice" else "tell"
    return "replace-client" if difference.pattern == "places.*.client" else "tell"
