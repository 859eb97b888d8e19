"""What happens when power, passwords or channels fail: who comes back, when, over which way, and who needs a hand.

A small event simulation on plain records; it knows no site.
"""
