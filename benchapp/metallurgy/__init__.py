"""Parts, materials and families to a signature matrix, and what can be told apart. Pure."""
