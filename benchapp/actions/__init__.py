"""What a person can do: one module of verbs per noun, each verb one transaction, undoable, returning what changed.

Pure Python: no Qt, no SQL, no spreadsheets. The window and the command line both call these and nothing else.
"""
