"""One channel played turn by turn: an instrument to understand simulated runs with, no part of the program."""
