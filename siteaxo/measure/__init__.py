"""Quantities and cautions."""
