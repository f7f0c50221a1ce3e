"""An invented team, its fleet and its exports; builds the demo bench file."""
