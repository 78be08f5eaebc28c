"""Where the sample photos are made: `python -m sample_images.studio.make [NAME...]`."""
