"""The same corner with two thicknesses of leaf: a job file changed from a script, nothing written."""

from assemblies.job import demo, load
from assemblies.study import study

job = load(demo("heronbank-front"))  # or your own: load("mine.toml")
for leaf in (4.0, 4.5):
    corner = study(job.changed({"spring.leaf_thickness": leaf}), interference=False)
    spring, top = corner.results.spring, corner.results.findings[0]
    assert spring is not None  # there is one wherever the corner stands
    print(
        f"{leaf} mm leaves: {spring.rate_nm_per_deg:.2f} N·m/deg, {spring.ride_frequency_hz:.2f} Hz, "
        f"{spring.stress_max_mpa:.0f} MPa at bump; first finding: {top.level}, {top.where}"
    )

# prints:
# 4.0 mm leaves: 5.80 N·m/deg, 1.77 Hz, 417 MPa at bump; first finding: warn, sleeve
# 4.5 mm leaves: 8.17 N·m/deg, 2.10 Hz, 390 MPa at bump; first finding: warn, sleeve
