"""The command line: its commands, and what they share: options, files, what goes wrong."""
