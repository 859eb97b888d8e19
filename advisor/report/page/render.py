"""The report as one HTML page or as Markdown: each section is a template over the same building blocks."""

from __future__ import annotations

import re
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from advisor import __version__
from advisor.report import plan_marks
from advisor.report.page.gather import MARK, SECTIONS, Content
from advisor.report.page.tree import Line, Told
from advisor.report.page.views import view_of
from advisor.units import inert

TITLES = {
    "summary": "In short",
    "plan": "The site as it is",
    "outcomes": "What works where",
    "speeds": "What places and hops get",
    "walks": "Calls while walking",
    "outages": "Power cuts, new passwords, lost boxes",
    "findings": "What was found, by cause",
    "steps": "What to do, in order",
    "layouts": "Layouts compared, and what can be promised",
    "difference": "The difference to the other description",
    "assumptions": "What this rests on",
    "cautions": "Before anybody climbs, drills or plugs",
    "about": "How this was computed",
}
SPECIAL = re.compile(r"([\\`*_{}\[\]<>|#$~&!@]|(?<=https):|(?<=http):|(?<=ftp):|(?<=www)\.)", re.IGNORECASE)
"""Characters Markdown may take for its own."""
TYPED = re.compile(r"`([^`]+)`")
LONG_WORD = re.compile(r"\S{17,}")
PIECES = re.compile(r"\w{1,12}\W?|\W")
LEADING = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|=|$)")


def html(content: Content) -> str:
    """The whole page."""
    return _page(content, "html", _html_line)


def markdown(content: Content) -> str:
    """The same content as Markdown."""
    return re.sub(r"\n{3,}", "\n\n", _page(content, "md", _markdown_line)).strip() + "\n"


def _page(content: Content, kind: str, line: Any) -> str:
    env = Environment(
        loader=PackageLoader("advisor.report.page"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    env.filters |= {"line": line, "plain": lambda text: Markup(escape(inert(str(text))))}
    blocks = env.get_template(f"blocks.{kind}.j2").module
    shown = [name for name in SECTIONS if name in content.wanted and (name != "difference" or content.data["diff"])]
    sections = [
        env.get_template(f"sections/{name}.j2").render(b=blocks, title=TITLES[name], v=view_of(name, content))
        for name in shown
    ]
    about = content.loaded.site.site
    style = env.get_template("style.css").render() if kind == "html" else ""
    page = env.get_template(f"page.{kind}.j2").render(
        body=Markup("\n".join(sections)),
        contents=[(name, TITLES[name]) for name in shown],
        day=_day(content),
        file=content.loaded.file,
        invented=about.invented,
        mark=MARK,
        program=__version__,
        style=Markup(style + floor_style()),
        title=about.name,
    )
    return page if page.endswith("\n") else page + "\n"


def _day(content: Content) -> str:
    """The day the report was made for, where it was asked for or decides anything."""
    day, wanted = content.wanted.today, content.wanted
    ends = any(entry.until is not None for entry in content.loaded.site.ignored.values())
    return day.isoformat() if day is not None and (wanted.dated or ends) else ""


def _html_line(line: Line) -> Markup:
    """A line with every figure marked by where it stands in the JSON."""
    if isinstance(line, Markup):
        return line
    if isinstance(line, Told):
        text = _words(line.text) if line.form == "typed" else _breakable(line.text)
        return Markup('<bdi data-from="{}" data-form="{}">{}</bdi>').format(line.path, line.form, text)
    if isinstance(line, (list, tuple)):
        return Markup("").join(_html_line(part) for part in line)
    return _words(str(line))


def _breakable(text: str) -> Markup:
    """A text made harmless, with places to break words too long for a column: after signs, else every few letters."""
    parts = LONG_WORD.sub(lambda found: "\0".join(PIECES.findall(found[0])), inert(text)).split("\0")
    return Markup("<wbr>").join(Markup(escape(part)) for part in parts)


def _words(text: str) -> Markup:
    """A text made harmless; what stands between backticks is to be typed as it is."""
    return Markup(TYPED.sub(r"<code>\1</code>", str(_breakable(text))))


def _markdown_line(line: Line) -> Markup:
    """A line in which nothing from outside is taken for Markdown, HTML or a link."""
    return Markup(LEADING.sub(_kept, _plain(line)))


def _kept(found: re.Match[str]) -> str:
    """A mark at the beginning of a line that Markdown would take for a list or a heading."""
    space, mark = found.groups()
    return f"{space}{mark[:-1]}\\{mark[-1]}"


def _plain(line: Line) -> str:
    if isinstance(line, (list, tuple)):
        return "".join(_plain(part) for part in line)
    return SPECIAL.sub(r"\\\1", inert(str(line)))


def floor_style() -> str:
    """The style of plans and maps, for pictures that stand in the page."""
    rules = [rule for rule in (plan_marks.STYLE + FLOORS).replace("\n", "").split("}") if rule.strip()]
    return "\n".join(_scoped(*rule.split("{", 1)) for rule in rules)


def _scoped(selectors: str, body: str) -> str:
    return ",".join(_within(selector.strip()) for selector in selectors.split(",")) + "{" + body + "}"


def _within(selector: str) -> str:
    return f"svg.floor{selector}" if selector.startswith(".map ") else f"svg.floor {selector}"


FLOORS = """
.sheet-ground{fill:#fff;stroke:none}
.region{stroke:#4d575b;stroke-width:.8px}
.ground-calls{fill:#dfe7f4}.ground-plain{fill:#fff}
.ink{stroke:#98a2a5;stroke-width:.8px}.ink.heavy{stroke:#6b767a;stroke-width:1px}
.dot{fill:#0b3f8a}.cross{stroke:#0b3f8a;stroke-width:1.3px}.open{stroke:#0b3f8a;stroke-width:1px}
.map .halo{stroke-width:4.5px}
.tag{fill:#fff;stroke:#4d575b;stroke-width:.6px}.tag-text{fill:#1c2326}
.stop{fill:#fff;stroke:#0b3f8a;stroke-width:1.6px}.stop.gap{fill:#0b3f8a}
.stop-number{font-size:9px;font-weight:bold;fill:#0b3f8a}.stop-number.light{fill:#fff}
"""
