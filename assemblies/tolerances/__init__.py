"""What building errors do: points from tape distances, bands of the numbers, the car as it was built.

In: a `Job`, doubts or readings. Out: bands, corrected jobs. Uses: `layout`, `setup`, `motion` and below.
"""
