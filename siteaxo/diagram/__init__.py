"""Faces and a view made into named, ordered layers."""
