"""report.html: one file, no network, that shows a corner to whoever has to build it.

from assemblies.making import report
report.write(study, results, folder, shapes)

`page` puts it together from `tables`, `told` and `numbers`, `filling` makes it one file; a picture has its
numbers in a file here, its section in a template, its script in a file: `rocker_plane`, `gaps` and
`gap_maps`, `strength_parts`, `scene` (what `view.js` and `tools.js` show), `overlay` (two corners in one
scene, for `compare`).
"""

from assemblies.making.report.filling import alive, empty
from assemblies.making.report.page import page, write

__all__ = ["alive", "empty", "page", "write"]
