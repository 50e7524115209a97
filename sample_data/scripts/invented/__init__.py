"""Invented data for the scripts beside this folder; a script of one's own reads files instead."""
