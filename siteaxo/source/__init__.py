"""Reading layers onto the local plane, with their levels."""
