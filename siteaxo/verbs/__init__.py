"""The main calls: sites, models and diagrams, and what is made of several of them."""
