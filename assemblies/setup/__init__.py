"""Setting up a welded corner: clocking, preload, ride height, slide, corner weights. Numbers only; arrays in,
arrays out.

In: a `Job`, its springing and layout. Out: rows of `SetUp` and `Clocking`, findings. Uses: `layout`, `motion`
and below.
"""
