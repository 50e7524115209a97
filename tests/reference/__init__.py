"""References that the drawing is judged by; none of them uses the library itself."""
