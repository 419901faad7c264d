"""One file per command; each holds a click command named `command`."""
