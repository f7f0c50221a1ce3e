"""Sump balance, carry-over, source split, expected rate, evidence, the call. Pure."""
