"""The command line's commands, what it says, and how it stops."""
