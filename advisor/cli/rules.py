"""`advisor rules list`, `advisor rules show ID` and `advisor rules pages FOLDER`."""

from __future__ import annotations

from typing import Annotated

import typer

app = typer.Typer(help="The rules: what is checked and why.", no_args_is_help=True, rich_markup_mode=None)


@app.command("list")
def list_rules() -> None:
    """List every rule with its topic, level and title."""
    from advisor.assess import shipped_rules
    from advisor.cli import output
    from advisor.report.rules_text import rule_list

    output.show(rule_list(shipped_rules()))


@app.command("show")
def show_rule(
    rule: Annotated[str, typer.Argument(metavar="ID", help="The rule's id, or a topic for all its rules.")],
) -> None:
    """Show one rule: what it checks, why, its thresholds with sources, what to do, its limits and examples."""
    from advisor.assess import select, shipped_rules
    from advisor.cli import output
    from advisor.report.rules_text import rule_pages

    output.show(rule_pages(select(shipped_rules(), [rule], [])))


@app.command("pages")
def write_pages(
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Where the pages go; it is made if missing.")],
) -> None:
    """Write the rules as Markdown pages: an index, and one page for each topic."""
    from advisor.assess import shipped_rules
    from advisor.cli import files, output
    from advisor.report import rules_pages

    made = rules_pages.pages(shipped_rules())
    files.write_all(folder, made, mark=rules_pages.MARK)
    output.tell(f"wrote {len(made)} pages into {folder}; begin with {rules_pages.INDEX}")
