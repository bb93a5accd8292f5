"""Speed as ratios measured side by side in one run: never seconds, never a timed test. Uses: every room;
nothing but `command` uses it. `elements` stands beside: hand formulas of strength against solid elements,
run by itself."""
