"""`advisor ask FILE`: a short interview that writes a site file."""

from __future__ import annotations

import sys
import textwrap
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from advisor.interview.keep import Kept
    from advisor.interview.questions import Question
    from advisor.interview.session import Sitting

WELCOME = (
    "A few questions; from your answers {file} is written, and saved after each of them.\n"
    "An empty line means “I don't know”. ? tells more, - takes the last answer back, . stops for now."
)
MOST_BYTES_A_LINE = 10_000
WIDTH = 100


def command(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The site file to write or to complete.")],
) -> None:
    """Ask for what a site file needs, in plain words, and write it; run it again to go on."""
    from advisor.interview import session
    from advisor.interview.keep import Kept

    kept = Kept(file)
    sitting = session.begin(kept.state)
    if sitting.question is None:
        _say(f"{file}: nothing is left to ask.")
    else:
        _say(WELCOME.format(file=file))
        _say(session.opening(kept.state))
        sitting = _interview(kept, sitting)
    _say(_next_steps(kept, sitting))


def _interview(kept: Kept, sitting: Sitting) -> Sitting:
    """Ask until nothing is left, the person stops, or the input ends."""
    from advisor.interview import session

    topic = asked = ""
    known: set[str] = set()
    try:
        while question := sitting.question:
            if question.topic != topic:
                topic = question.topic
                _say(f"\n{topic}", bold=True)
            if question.ask != asked:
                _put(question, briefly=question.step.id in known)
            asked = question.ask
            known.add(question.step.id)
            line = _read()
            if line is None:
                _say("\nStopped here.")
                break
            before = sitting.state
            sitting, reply = session.step(sitting, line)
            _say(reply, indent="  ")
            if sitting.state is not before:
                asked = ""
                kept.save(sitting.state)
    except KeyboardInterrupt:
        kept.save(sitting.state)
        _say("\nStopped here.")
    return sitting


def _put(question: Question, *, briefly: bool) -> None:
    """Show one question with what may be answered; briefly where one of its kind was asked before."""
    _say(f"\n{question.ask}" if question.why else question.ask)
    if briefly and question.choices:
        numbered = question.step.numbered
        words = [f"{n} {word}" if numbered else word for n, (word, _) in enumerate(question.choices, 1)]
        _say(", ".join(words), indent="  ")
        return
    _say("" if briefly else question.why, indent="  ")
    _say(question.hint, indent="  ")
    widest = max((len(word) for word, _ in question.choices), default=0)
    for number, (word, meaning) in enumerate(question.choices, 1):
        before = f"  {number}  " if question.step.numbered else "  "
        _say(f"{word.ljust(widest)}  {meaning}".rstrip(), indent=before)


def _read() -> str | None:
    """One line of what is typed, None at the end of the input."""
    sys.stderr.write("> ")
    sys.stderr.flush()
    stream = getattr(sys.stdin, "buffer", None)
    data = stream.readline(MOST_BYTES_A_LINE) if stream else b""
    if not data:
        return None
    encoding = (sys.stdin.encoding if sys.stdin.isatty() else None) or "utf-8"
    line = str(data, encoding, "surrogateescape").rstrip("\r\n")
    if not sys.stdin.isatty():  # nobody saw it typed
        sys.stderr.write("".join(c if c.isprintable() else "·" for c in line) + "\n")
    return line


def _next_steps(kept: Kept, sitting: Sitting) -> str:
    """What there is now and what to do with it."""
    from advisor.interview.render import not_known

    file = kept.name
    if kept.there is None:
        return f"Nothing was answered, so {file} was not written."
    open_now = sum(len(lines) for lines in not_known(sitting.state).values())
    as_it_was = "Nothing was added; the file is as it was." if kept.by_hand else f"{file} holds your answers."
    lines = ["", f"{file} holds your answers." if kept.written else as_it_was]
    if kept.copied:
        lines.append(f"What stood there before is kept in {kept.copied}, in the same folder.")
    if sitting.question is not None:
        lines.append(f"Not everything was asked yet: run `advisor ask {file}` again to go on.")
    if open_now:
        word = "answer was" if open_now == 1 else "answers were"
        how = "" if kept.by_hand else "; what each was about stands in the file as “not known”, with how to add it"
        lines.append(f"{open_now} {word} left open{how}.")
    lines += [
        "Next:",
        f"  advisor check {file}               what is wrong, why, and what to do",
        f"  advisor plan {file} -o plan.svg    a sketch of the site to look at",
    ]
    return "\n".join(lines)


def _say(text: str, *, indent: str = "", bold: bool = False) -> None:
    """Talk to the person, on stderr; long lines are broken."""
    if not text:
        return
    lines = []
    for number, line in enumerate(text.split("\n")):
        before = indent if number == 0 or not indent.strip() else " " * len(indent)
        own = len(line) - len(line.lstrip())
        after = " " * (len(indent) + own + (2 if own else 0))
        lines += textwrap.wrap(
            line,
            WIDTH,
            initial_indent=before,
            subsequent_indent=after,
            drop_whitespace=True,
            replace_whitespace=False,
            break_long_words=False,
            break_on_hyphens=False,
        ) or [""]
    told = "\n".join(lines)
    typer.echo(typer.style(told, bold=True) if bold else told, err=True)
