"""`python -m advisor`."""

from advisor.cli.app import main

main()
