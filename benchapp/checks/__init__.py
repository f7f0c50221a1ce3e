"""The bench instruments: check standards, control charts, noise model. Pure."""
