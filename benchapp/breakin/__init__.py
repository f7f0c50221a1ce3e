"""Break-in stages, dyno pulls, leak-down, plateau and ceiling. Pure."""
