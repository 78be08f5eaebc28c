"""The command line, the web page and the words around `vision` and `circuit`."""
