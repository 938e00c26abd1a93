"""`python -m analyzer` is `burrcast`."""

from analyzer.cli import main

main()
