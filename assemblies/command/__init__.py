"""The command: words in, text and an exit status out. Uses: every room; nothing uses it."""
