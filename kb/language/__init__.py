"""The language of the knowledge: how its files are read, shaped, checked and written."""
