"""What is known of one unit on one bench, as frozen records, and the arithmetic that they imply."""
