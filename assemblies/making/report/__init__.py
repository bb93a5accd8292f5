"""report.html: one file, no network, that shows a corner to whoever has to build it.

from assemblies import report
report.write(study, results, folder, shapes)
"""

from assemblies.making.report.page import alive, empty, page, write

__all__ = ["alive", "empty", "page", "write"]
