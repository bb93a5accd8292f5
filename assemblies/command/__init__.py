"""The command: words in, text and an exit status out. Uses: every room; nothing uses it."""

import gc

gc.set_threshold(200_000)  # hundreds of modules and all a study makes live to its end: it is no use to look
# for rings among them each 700 objects, and costs a fourteenth of a check
