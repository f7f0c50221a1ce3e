"""Viscosity, grade, blending, condition and bearing film. Pure."""
