"""The gaps of a corner: what is near what over travel and rack, hoses, room for tools, and cures for what is
too near.

In: a `Layout` and its mechanism. Out: rows of `ClearanceRow`, findings. Uses: `strength`, `layout`,
`clearance` and below.
"""
