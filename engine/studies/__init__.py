"""What is found out about plans and knowledge beside the bench: nothing of it is needed to work."""
