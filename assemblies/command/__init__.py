"""The command: words in, text and an exit status out. Uses: every room; nothing uses it."""

import gc
import os
import sys
from importlib import import_module
from types import ModuleType

gc.set_threshold(200_000)  # hundreds of modules and all a study makes live to its end: it is no use to look
# for rings among them each 700 objects, and costs a fourteenth of a check
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # no matrix here is large, and numpy's threads, one for
# each core, wait for work by spinning: a fifth of the time of a check that was made before
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
if os.environ["PYDANTIC_DISABLE_PLUGINS"] == "__all__":
    # Nothing else installed here has a say in a job, and what would look for it is not loaded: it brings the
    # standard library's mail and archives, a thirtieth of a check. Whoever asks it more gets the real one.
    no_loader = ModuleType("pydantic.plugin._loader")

    def _real(name: str) -> object:
        if name.startswith("__"):  # what Python itself asks of any module
            raise AttributeError(name)
        del sys.modules[no_loader.__name__]
        return getattr(import_module(no_loader.__name__), name)

    vars(no_loader).update(get_plugins=tuple, __getattr__=_real)
    sys.modules.setdefault(no_loader.__name__, no_loader)
