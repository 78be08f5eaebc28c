"""From dough on a grid to volts, findings and remedies.

Knows nothing of photos, files or the web. The whole chain is `circuit.inspection.inspect`.
"""
