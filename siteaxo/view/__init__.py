"""Parallel views and exact visibility."""
