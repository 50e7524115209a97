"""Lines, tones and symbols: how a drawing looks."""
