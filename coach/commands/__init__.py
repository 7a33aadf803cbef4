"""The commands, by what they are about. Each parses, calls and prints."""
