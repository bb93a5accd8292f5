"""Where a corner stands under a weight, found by halving: slow, plain, by no derivative."""

from dataclasses import replace


def settle_mm(preload, mechanism, weight_n, wound=0.0):
    """Where the spring carries `weight_n`, wound by `wound` (rad; coil-over mm): halving, slow and plain."""
    set_up = replace(preload, ride=preload.ride + preload.spring.rate * wound)
    low, high = -80.0, 80.0
    for _ in range(80):
        z = (low + high) / 2
        low, high = (low, z) if float(set_up.curves(mechanism.at(z)).wheel_force_n) > weight_n else (z, high)
    return z
