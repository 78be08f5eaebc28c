"""The routes of the web page, one file for each thing they are about."""
