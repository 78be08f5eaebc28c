"""What is printed: the sheet of a sculpture, the sheet of a class, makers' cards."""
