"""One module of verbs per noun: what a person can do, each one transaction and undoable."""
