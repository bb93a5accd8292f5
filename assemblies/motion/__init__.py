"""How the corner moves, in closed form: poses over travel and rack, their derivatives and ends, and what the
spring makes of them.

In: a `Job`'s hard points. Out: `Mechanism`, poses, `Springing`. Uses: `job`, `results`.
"""
