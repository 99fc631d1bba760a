"""What chart, sheet, page and screen say of a step, a set-up, a verdict: one writer of each."""
