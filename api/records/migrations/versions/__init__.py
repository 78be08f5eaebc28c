"""One file a step. There is no way back: what is newer would be lost."""
