"""Setting up a welded corner: preload, ride height, slide, corner weights. Numbers only; arrays in, arrays out."""
