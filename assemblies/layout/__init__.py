"""From numbers to placed parts: parameter sets, where each stands at ride height, what it moves with, what
bodies they make.

In: a `Job`, its mechanism, design forces. Out: `Layout` of placed parts, blanks, bolts, cut tubes. Uses:
`clearance`, `motion`, `job`.
"""
