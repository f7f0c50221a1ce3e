"""Trends: what is this engine doing?"""
