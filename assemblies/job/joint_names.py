"""The names of the rocker's and the spring's bolted joints: what findings, sheets and results call them, and
what other rooms know them by."""

ROD_EYE = "rod to rocker"
DAMPER_EYE = "damper to rocker"
CROSS_BOLT = "sleeve's cross bolt"
ANCHOR_PLATES = "anchor plates"
