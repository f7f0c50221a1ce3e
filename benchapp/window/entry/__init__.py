"""Sample entry: the screen that answers "are these numbers right, and whose are they?"."""
