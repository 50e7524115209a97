"""Paper: sizes, scale, figure and furniture."""
