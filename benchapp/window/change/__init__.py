"""The Before / after view: did that help?"""
