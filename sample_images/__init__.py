"""Sample sculptures: photos with their cases and expected reports."""
