"""A client that moves: what it hears on its way, when it changes radio, and what that does to a call."""
