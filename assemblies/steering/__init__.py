"""Steering and corner geometry: what the wheel does on the ground over travel and rack, where the rack may
go, two corners as an axle. Numbers only.

In: a `Job`, its mechanism and springing. Out: rows of `Steering`, `Geometry` and `Axle`, findings. Uses:
`gaps`, `setup`, `layout`, `motion` and below.
"""
