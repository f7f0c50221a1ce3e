"""The view *Bench checks*: may I trust the instrument today?"""
