"""Shape as numbers: flat outlines and their offsets, forms of prisms and rounds, the skins of tubes. No
kernel."""
