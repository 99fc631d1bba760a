"""What a meter shows and a person says, what it is taken for, and what it says of the faults."""
