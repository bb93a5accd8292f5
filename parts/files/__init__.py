"""Shape as files: DXF (the only file that imports ezdxf), solids and STEP, other programs' STEP files as
triangles, the cache."""
