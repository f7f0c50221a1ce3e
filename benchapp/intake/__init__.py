"""Clipboard, text and spreadsheet files to typed readings, with a problem list per cell."""
