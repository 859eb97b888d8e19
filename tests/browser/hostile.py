"""A site whose every free text tries to be more than text: markup, template syntax, invisible characters, long words.

It is a small whole site all the same, so that every part of a report has something to tell.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

MARKUP = (
    "<script>window.owned=1</script>",
    '"><img src=x onerror=window.owned=1>',
    "</title><svg onload=window.owned=1>",
    "</style>",
    "]]>",
    "<!--",
    '<a href="javascript:window.owned=1">tap</a>',
    "<javascript:window.owned=1>",
    "javascript:window.owned=1",
    "![x](javascript:window.owned=1)",
    "[x](javascript:window.owned=1)",
    "`<b onclick=window.owned=1>`",
)
TEMPLATES = ("{{ 7*7 }}", "{% for x in y %}", "{# gone #}", "${7*7}", "$x^2$", "#{7*7}", "%s %(x)s {0} \\frac{1}{0}")
TURNED = (
    "\u202eturned",
    "\u2067isolated",
    "👩\u200d👩\u200d👧",
    "bell \x07 and escape \x1b[31m",
    "nul \\x00 \\u0000 &#0;",
)
LONG = "W" * 500
NAME = " ".join((*MARKUP[:6], *TEMPLATES, *TURNED))
"""The name of the site: the longest text there is, at most 500 characters."""
FILE = "\"><img src=x onerror=window.owned=1>{{ 7*7 }}'.yaml"
"""The name of the site file."""
SSIDS = {
    "script": "<script>owned=1</script>",
    "img": '"><img src=x onerror=owned=1>',
    "title": "</title><svg onload=owned=1>",
    "braces": "{{ 7*7 }}{% for x in y %}${7*7}",
    "turned": "\u202eab\u2067c 👩\u200d👧 $x^2$",
}
OCTETS = bytes([0, 7, 27, 34, 38, 39, 60, 62, 96, 127, 128, 160, 173, 192, 254, 255]) + b"<svg/onload=x>]]"
REASONS = {
    "name-hard-to-type": " ".join(MARKUP),
    "line-without-fair-queue": " ".join((*TEMPLATES, *TURNED)),
    "mount-needs-ladder": LONG,
}
"""Why findings are ignored, by the rule of findings this site has."""
IDS = ("constructor", "__proto__", "script", "onerror", "javascript", "W" * 40)
"""Ids as odd as their pattern lets them be; what begins with an underscore is no id."""


def _node(at: tuple[float, float], channel: int, **more: Any) -> dict[str, Any]:
    radios = {"script": {"band": "2.4", "channel": 1}, "r5": {"band": "5", "channel": channel, "width_mhz": 80}}
    return {"at": list(at), "floor": IDS[0], "radios": radios, "note": " ".join(MARKUP[:4]), **more}


def site() -> dict[str, Any]:
    """The site as data."""
    floor, other, *_, wide = (name for name in IDS if not name.startswith("_"))
    networks = {name: {"name": ssid, "security": "wpa2-personal"} for name, ssid in SSIDS.items()}
    networks["octets"] = {"name_hex": OCTETS.hex(), "security": "wpa3-personal"}
    walls = {
        "script": {"line": [[6, 0], [6, 8]], "of": "brick", "openings": {"onload": {"from_m": 3, "to_m": 4}}},
        "outer": {"line": [[0, 0], [18, 0], [18, 8], [0, 8], [0, 0]], "of": "brick-cavity"},
    }
    return {
        "site": {"name": NAME, "country": "GB", "environment": "house", "invented": True, "note": " ".join(MARKUP[:8])},
        "internet": {"down_mbps": 80, "up_mbps": 20},
        "floors": {floor: {"level": 0, "plan": "complete", "walls": walls}},
        "nodes": {
            "gateway": _node((2, 2), 36, role="gateway", mount_height_m=4, power={"circuit": "onerror"}),
            wide: _node((9, 5), 36, role="relay", uplink={"to": "gateway", "band": "5"}, power={"circuit": wide}),
        },
        "networks": networks,
        "clients": {"javascript": {"like": "phone"}, wide: {"like": "laptop"}},
        "places": {
            other: {"client": "javascript", "at": [4, 6], "floor": floor, "calls": 1, "down_mbps": 5, "up_mbps": 1},
            wide[:39] + "2": {"client": wide, "at": [16, 2], "floor": floor, "down_mbps": 60, "up_mbps": 30},
            "far": {"client": "javascript", "at": [60, 2], "floor": floor, "down_mbps": 20, "up_mbps": 20, "calls": 1},
        },
        "walks": {wide: {"points": [other, [12, 4, floor], "far"], "client": "javascript"}},
        "neighbours": {"script": {"band": "2.4", "channel": 3, "heard_dbm": {"gateway": -60}, "busy_share": 0.2}},
        "interference": {"onerror": {"band": "2.4", "duty_share": 0.2, "note": NAME}},
        "needs": {"script": {"place": other, "calls": True, "note": NAME}},
        "measured": {"script": {"radio": "gateway.r5", "at": wide, "level_dbm": -70, "when": NAME}},
        "outages": {wide: {"off": ["onerror"]}, "script": {"changed": {"script": 2}}},
        "ignored": {rule: {"rule": rule, "reason": reason} for rule, reason in REASONS.items()},
    }


def text() -> str:
    """The site file."""
    return yaml.safe_dump(site(), allow_unicode=False, sort_keys=False)


def write(folder: Path) -> Path:
    """The site file in that folder."""
    path = folder / FILE
    path.write_text(text(), encoding="utf-8")
    return path
