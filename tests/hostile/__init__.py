"""Bad input of our own making: a catalogue, its files, and how each is judged."""
