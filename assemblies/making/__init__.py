"""What a builder can hold or look at: blanks, solids, sheets, nest, plots, report; a build makes them all in
a fresh folder.

In: a `Study`. Out: files. Uses: every room below; the only room that loads the CAD kernel for more than a
neighbour's STEP file.
"""
