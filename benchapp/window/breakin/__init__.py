"""The Break-in view: is it done?"""
