"""Where a corner stands under a weight, by halving and Brent's method (scipy): plain, by no derivative."""

from dataclasses import replace

from scipy.optimize import brentq


def settle_mm(preload, mechanism, weight_n, wound=0.0):
    """Where the spring carries `weight_n`, wound by `wound` (rad; coil-over mm); +-80 where nowhere."""
    set_up = replace(preload, ride=preload.ride + preload.spring.rate * wound)

    def over(z):
        return float(set_up.curves(mechanism.at(z)).wheel_force_n) - weight_n

    low, high = -80.0, 80.0
    for _ in range(6):  # the ends of the span may lie beyond what the linkage reaches
        z = (low + high) / 2
        low, high = (low, z) if over(z) > 0 else (z, high)
    if 80.0 in (-low, high):
        return low if low == -80.0 else high
    return brentq(over, low, high, xtol=1e-11)
