"""The physics of a Wi-Fi site as pure functions by topic; each takes floats and numpy arrays alike."""
