"""Where a text of YAML is cut so that it gives another value: one value, one entry, one item at a time; comments, order
and style of all else stay as they are."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from advisor.site import matching, splice_lines, yaml_out
from advisor.site.matching import same
from advisor.site.splice_flow import in_brackets
from advisor.site.splice_text import Splice, Text, Unclear
from advisor.site.yaml_reader import Document, Path


def splices(document: Document, wanted: Mapping[str, Any]) -> list[Splice]:
    """The cuts that make a document give what is wanted, in order. Raises Unclear."""
    text = Text(document)
    found = _Cutter(text).cuts(wanted)
    found += splice_lines.no_line_break_at_end(text, found)
    return sorted(found, key=lambda splice: splice[:2])


def cut(text: str, found: Sequence[Splice]) -> str:
    """The text with all cuts made. Raises Unclear where two are at one place."""
    parts, done = [], 0
    for splice in found:
        if splice.start < done:
            raise Unclear("two edits at one place")
        parts += [text[done : splice.start], splice.text]
        done = splice.end
    return "".join([*parts, text[done:]])


_NAME = re.compile(r"[&*]([\w-]+)")
_END_MARK = re.compile(r"^\.\.\.(?:\s|\Z)", re.MULTILINE)


class _Cutter:
    def __init__(self, text: Text) -> None:
        self.text = text
        spots = text.document.spots
        self.anchors = sorted((spots[path].start, self._name(path)) for path in spots if text.anchored(path))
        self.aliases = any(spot.shared for spot in spots.values())
        self.now: dict[int, Any] = {}
        """What each anchor that stays stands for afterwards, by its place."""
        self.told: dict[int, Any] = {}

    def _name(self, path: Path) -> str:
        found = _NAME.match(self.text.text, self.text.spot(path).start)
        return found.group(1) if found else ""

    def cuts(self, wanted: Mapping[str, Any]) -> list[Splice]:
        before = self.text.document.value
        if self.aliases:  # first look what the anchors will stand for
            list(self.value((), before, wanted))
            self.told, self.now = self.now, {}
        return list(self.value((), before, wanted))

    def value(self, path: Path, before: Any, after: Any, flow: bool = False) -> Iterator[Splice]:
        """What changes at one path; `flow` inside braces or brackets."""
        spot = self.text.spot(path)
        if spot.shared:
            if not self._alias_stays(path, before, after):
                yield Splice(spot.start, spot.end, yaml_out.flow(after))
            return
        if self.text.anchored(path):
            self.now[spot.start] = after
        pair = flow and not self.text.bracketed(path)
        flow = flow or self.text.bracketed(path)
        if same(before, after) and not (self.aliases or isinstance(after, matching.Block)):
            return
        if isinstance(before, Mapping) and isinstance(after, Mapping) and (before or flow):
            yield from self._mapping(path, before, after, flow, pair)
        elif isinstance(before, list) and isinstance(after, (list, tuple)) and (before or flow):
            yield from self._list(path, before, after, flow)
        elif not same(before, after):
            yield from self._whole(path, after, flow)

    def _alias_stays(self, path: Path, before: Any, after: Any) -> bool:
        """Whether the anchor it repeats stays, and then stands for what is wanted here."""
        start, name = self.text.spot(path).start, self._name(path)
        source = max((at for at, own in self.anchors if own == name and at < start), default=None)
        if source is None:
            return same(before, after)
        return source in self.told and same(self.told[source], after)

    def _whole(self, path: Path, after: Any, flow: bool) -> Iterator[Splice]:
        """A value as a whole gives way to another one, written on one line."""
        text, told = self.text, yaml_out.flow(after)
        if text.empty(path):
            at, before = text.hole(path)
            yield Splice(at, at, before + told)
        elif text.lines_of_text(path):
            yield from splice_lines.text_of_lines(text, path, told)
        elif text.holder(path) and not flow:
            yield from splice_lines.onto_word(text, path, told)
        else:
            body = text.body(path)
            yield Splice(body, text.end(path), " " * (text.text[body - 1 : body] == ":") + told)

    def _mapping(
        self, path: Path, before: Mapping[str, Any], after: Mapping[str, Any], flow: bool, pair: bool
    ) -> Iterator[Splice]:
        stay = matching.keys(before, after)
        came = set(stay.values())
        new = {key: value for key, value in after.items() if key not in came}
        if pair and (new or len(stay) < len(before)):
            yield from self._whole(path, after, flow)
            return
        for key, called in stay.items():
            if called != key:
                yield self._renamed((*path, key), called)
            yield from self.value((*path, key), before[key], after[called], flow)
        if not new and len(stay) == len(before):
            return
        kept = [key in stay for key in before]
        if flow:
            added = [f"{yaml_out.scalar(key)}: {yaml_out.flow(value)}" for key, value in new.items()]
            behind = max((number for number, stays in enumerate(kept) if stays), default=-1)
            yield from in_brackets(self.text, path, self.text.entries(path), kept, {behind: added})
        else:
            yield from self._block(path, kept, new)

    def _renamed(self, path: Path, called: str) -> Splice:
        spot = self.text.document.keys[path]
        if self.text.text[spot.start : spot.start + 1] in ('"', "'"):
            return Splice(spot.start, spot.end, yaml_out.quoted(called))
        return Splice(spot.start, spot.end, yaml_out.scalar(called))

    def _block(self, path: Path, kept: Sequence[bool], new: Mapping[str, Any]) -> Iterator[Splice]:
        text, entries = self.text, self.text.entries(path)
        if not any(kept) and not new:
            if not path:
                raise Unclear("nothing would be left")
            yield from splice_lines.onto_word(text, path, "{}")
            return
        first, end = entries[0], entries[-1].end
        indent = text.column(first.start)
        if not path:
            yield from splice_lines.gone(text, entries, kept)
            yield from self._sections(new, kept)
            return
        lines = [line for key, value in new.items() for line in yaml_out.entry(key, value, indent)]
        if not any(kept) and not text.first_on_line(first.start):  # behind a dash
            told = text.newline(end).join(lines)[indent:]
            yield Splice(first.start, text.line_end(first.end), told)
            yield from splice_lines.gone(text, entries[1:], kept[1:])
            return
        yield from splice_lines.gone(text, entries, kept)
        if lines:
            yield splice_lines.under(text, text.below(path), end, lines, kept[-1])

    def _sections(self, new: Mapping[str, Any], kept: Sequence[bool]) -> Iterator[Splice]:
        """New words of the file at its end, each below a blank line."""
        if not new:
            return
        text, end = self.text, self.text.end(())
        mark = _END_MARK.search(text.text, text.after(end))
        at = mark.start() if mark else len(text.text)
        staying = [path for path, stays in zip(text.children[()], kept, strict=True) if stays]
        above = text.last(staying[-1]) if staying else ()  # a text that keeps blank lines would take one more
        blank = "+" not in text.lines_of_text(above) or (kept[-1] and text.text[end:at].strip())
        indent = " " * text.column(text.entries(())[0].start)
        lines = [line for key, value in new.items() for line in ("", *(indent + told for told in section(key, value)))]
        last_stays = kept[-1] or text.after(end) < at
        yield splice_lines.under(text, at, end, lines if blank else lines[1:], last_stays)

    def _list(self, path: Path, before: list[Any], after: Sequence[Any], flow: bool) -> Iterator[Splice]:
        origins = matching.items(before, after)
        for origin, item in zip(origins, after, strict=True):
            if origin is not None:
                yield from self.value((*path, origin), before[origin], item, flow)
        kept = [number in set(origins) for number in range(len(before))]
        added: dict[int, list[Any]] = {}
        behind = -1
        for origin, item in zip(origins, after, strict=True):
            if origin is None:
                added.setdefault(behind, []).append(item)
            else:
                behind = origin
        if all(kept) and not added:
            return
        text, entries = self.text, self.text.entries(path)
        if flow:
            told = {number: [yaml_out.flow(item) for item in items] for number, items in added.items()}
            yield from in_brackets(text, path, entries, kept, told)
            return
        if not after:
            yield from splice_lines.onto_word(text, path, "[]")
            return
        yield from splice_lines.gone(text, entries, kept)
        indent = " " * text.column(entries[0].start)
        for number, items in added.items():
            lines = [f"{indent}- {yaml_out.flow(item)}" for item in items]
            if number >= 0:
                yield splice_lines.under(text, text.below((*path, number)), entries[number].end, lines)
            else:
                newline = text.newline(entries[0].start)
                head = "".join(f"{line.lstrip()}{newline}{indent}" for line in lines)
                yield Splice(entries[0].start, entries[0].start, head)


def section(name: str, value: Any) -> list[str]:
    """A section of the file as lines: a line for each of its entries where they are mappings."""
    if not isinstance(value, Mapping) or not value or not all(isinstance(item, Mapping) for item in value.values()):
        return yaml_out.entry(name, value, 0)
    return [
        f"{yaml_out.scalar(name)}:",
        *(line for key, item in value.items() for line in yaml_out.entry(str(key), item, 2)),
    ]
