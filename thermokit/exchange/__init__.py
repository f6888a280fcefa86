"""Exchange: what happens at a face, by radiation, convection and contact."""
