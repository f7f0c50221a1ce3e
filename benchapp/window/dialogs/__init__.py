"""Everything that asks the person something, behind one service that tests replace (`ask.Ask`)."""
