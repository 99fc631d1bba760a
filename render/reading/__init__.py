"""What a reading means, on the screen and as a picture: `figure` samples, the others set it."""
