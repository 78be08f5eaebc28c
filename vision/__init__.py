"""From a photo and a helper's taps to pieces of dough and their contacts.

Knows nothing of circuits. The whole chain is `vision.scene.read_scene`.
"""
