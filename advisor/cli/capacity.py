"""`advisor capacity SITE`: what each hop carries and what each place gets."""

from __future__ import annotations

from advisor.cli.check import Format, FormatOption, Site


def command(site: Site, format: FormatOption = Format.text) -> None:
    """Show what each hop carries, alone and while it serves, and what each place gets, alone and with everyone."""
    from advisor.cli import output
    from advisor.facts.checks import open_book
    from advisor.site.load import load_site

    loaded = load_site(site)
    book = open_book(loaded)
    if format is Format.json:
        from advisor.report.json_v1 import capacity_json

        output.show_json(capacity_json(book, loaded))
    else:
        from advisor.report.capacity_text import capacity

        output.show(capacity(book, loaded))
