"""The oil of a sample: the panel beside sample entry, and its page with the films of the bearings."""
