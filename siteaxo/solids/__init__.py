"""Features made into planar faces, stacked terrace by terrace."""
