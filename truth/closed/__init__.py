"""Contention sender by sender in closed form, to compare with what the program uses (advisor.physics.shared_air)."""
