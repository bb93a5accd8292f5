"""Which test holds the value of each row of the strength table, worked by hand: a new row needs one. Found by
planting a fault of 7 per cent in each row and looking which test falls."""

from pathlib import Path

import demos
import pytest

HELD = {
    ("test_clamped", "test_the_weakest_of_a_stack_decides"): ("class preload",),
    ("test_lug_rows", "test_a_drilled_tube_and_its_fin"): (
        "arm's tube at its hole",
        "fin beside the hole, its tip",
        "weld of the fin",
    ),
    ("test_lug_rows", "test_each_sleeve_bears_half"): (
        "bearing in service",
        "bearing of the pin",
        "shear of the bolt",
        "sleeve as a cantilever",
        "wall beside the bolt",
    ),
    ("test_lug_rows", "test_the_wall_under_a_saddle"): (
        "twist of the arm's tube",
        "wall of the arm's tube under the saddle",
    ),
    ("test_lug_rows", "test_the_weld_of_a_hole_also_leads_the_tubes_own_force_round_it"): (
        "weld of the sleeve",
    ),
    ("test_pivot_rows", "test_a_ball_bearing_tires_of_what_runs_along_the_axis"): (
        "life under the spectrum",
    ),
    ("test_pivot_rows", "test_cantilever_is_welded_where_it_bends"): (
        "fatigue, toe of the weld to the near wall",
    ),
    ("test_pivot_rows", "test_pressure_of_the_bush"): ("pressure of the bush",),
    ("test_pivot_rows", "test_seams_of_the_spring_tube"): (
        "plug welds into the spring tube",
        "weld of the fixed plate to the spring tube",
    ),
    ("test_pivot_rows", "test_spring_tube_where_the_frame_holds_it"): (
        "bending and torsion where the frame holds it",
    ),
    ("test_pivot_rows", "test_static_rating"): ("static rating",),
    ("test_pivot_rows", "test_stub_overhung_in_two_bearings"): (
        "bending, torsion and shear at the near support",
        "fatigue, bending at the near support",
    ),
    ("test_pivot_rows", "test_walls_that_a_cantilever_goes_through"): (
        "bearing on the wall it goes through",
        "weld to the wall",
    ),
    ("test_strap_pull", "test_a_strap_bends_the_tube_it_pulls_on"): (
        "bending of the lower arm's front tube",
    ),
    ("test_strap_pull", "test_the_tube_that_the_strap_stands_on"): (
        "bending and torsion under the droop strap",
    ),
    ("test_strength", "test_pin_and_plates_of_a_worked_joint"): (
        "bending and shear of the bolt",
        "bending of the bolt",
    ),
    ("test_strength", "test_shear_and_pull_together"): (
        "pull in the bolt",
        "shear and pull of the bolt",
    ),
    ("test_strength", "test_the_stems_thread_tires"): ("fatigue, thread of the stem",),
    ("test_strength_rows", "test_a_free_edge_is_a_strut_of_the_plates_thickness"): (
        "buckling of a free edge",
    ),
    ("test_strength_rows", "test_a_rods_strut_tie_stem_and_welds"): (
        "rod end",
        "strut",
        "tie, tube",
    ),
    ("test_strength_rows", "test_an_arms_tube_with_the_rod_on_it"): (
        "strut or tie with bending",
        "weld at the pivot's housing",
    ),
    ("test_strength_rows", "test_bolt_bearing_of_two_plates"): ("bolt bearing",),
    ("test_strength_rows", "test_bow_of_a_push_rod"): (
        "bowed strut, stem",
        "bowed strut, tube",
        "stem in tension",
        "weld of the insert",
    ),
    ("test_strength_rows", "test_clocking_bolts_and_the_sockets_window"): (
        "bearing of the clocking bolts",
        "clocking bolts in shear",
        "fatigue, holes of the outer tube",
        "pressure in the window",
        "torsion at the holes, outer tube",
    ),
    ("test_strength_rows", "test_cross_bolt_of_the_sleeve"): (
        "bearing of the cross bolt, inner tube",
        "bearing of the cross bolt, outer tube",
        "cross bolt in shear",
    ),
    ("test_strength_rows", "test_edge_of_the_hollow_by_a_second_route"): ("edge stress",),
    ("test_strength_rows", "test_edges_of_a_leaf_that_cannot_warp"): (
        "leaves' edges at the sockets' mouths",
    ),
    ("test_strength_rows", "test_fatigue_of_bolt_and_holes"): (
        "fatigue, cross bolt",
        "fatigue, holes of the inner tube",
    ),
    ("test_strength_rows", "test_fatigue_of_the_rockers_details"): (
        "fatigue, cut edge",
        "fatigue, toe of the pivot tube's weld",
    ),
    ("test_strength_rows", "test_flow_along_the_strips"): ("weld along the edge",),
    ("test_strength_rows", "test_how_far_bought_joints_swing"): (
        "rating",
        "swing",
    ),
    ("test_strength_rows", "test_metal_round_an_eye"): (
        "metal beyond the hole",
        "net section beside the hole",
        "splitting behind the hole",
        "tear-out",
    ),
    ("test_strength_rows", "test_net_section_of_an_eye_in_fatigue"): ("fatigue, net section at the hole",),
    ("test_strength_rows", "test_nut_and_pull_of_a_bolt"): ("thread of the nut",),
    ("test_strength_rows", "test_pivot_tube_and_its_welds"): ("bending and torsion",),
    ("test_strength_rows", "test_round_weld_with_every_force"): ("weld all round",),
    ("test_strength_rows", "test_rows_of_the_rockers_plates"): (
        "all together",
        "bending out of the plane",
        "shear in the plane",
        "tension and bending in the plane",
        "twist",
    ),
    ("test_strength_rows", "test_seams_of_the_sockets"): (
        "weld between its plates",
        "weld to the sleeve",
        "weld to the turning plate",
    ),
    ("test_strength_rows", "test_shear_of_the_springs_bar_at_its_worst_end"): (
        "shear at the greatest twist",
    ),
    ("test_strength_rows", "test_sleeve_in_torsion_at_its_holes"): ("torsion at the holes, inner tube",),
    ("test_strength_rows", "test_tabs_all_together"): ("tabs, all together",),
    ("test_strength_rows", "test_tabs_of_a_bracket"): (
        "tabs, in their plane",
        "tabs, out of their plane",
    ),
    ("test_strength_rows", "test_the_row_of_a_frame_tube"): ("bending and torsion under its brackets",),
    ("test_strength_rows", "test_the_tube_under_a_bracket"): ("wall of the member at the foot",),
    ("test_strength_rows", "test_the_weld_at_an_arms_joint"): ("weld at the joint's boss",),
    ("test_strength_rows", "test_the_weld_of_a_brackets_foot"): ("weld of the foot",),
    ("test_strength_rows", "test_thread_in_the_insert_of_a_rod"): ("thread in the insert",),
}
ROWS = {row for rows in HELD.values() for row in rows}


def known(check: str) -> bool:
    """A weld's fatigue is its row's flow over the throat; a joint's preload and the strap's tube carry names
    in theirs."""
    bare = check.removeprefix("fatigue, ")
    if bare.endswith("at class preload"):
        return "class preload" in ROWS
    if bare.startswith("bending of the ") and bare.endswith(" tube"):
        return "bending of the lower arm's front tube" in ROWS
    return check in ROWS or bare in ROWS


def test_the_tests_named_are_there():
    for file, test in HELD:
        assert f"def {test}(" in Path(__file__).with_name(f"{file}.py").read_text(encoding="utf-8"), test


@pytest.mark.parametrize("name", ["heronbank-front", "corrie-rear", "tarnside-front"])
def test_every_row_of_the_demos_has_a_test_that_holds_it(name):
    rows = {c.check for c in demos.corner(name).results.strength.checks}
    assert not {r for r in rows if not known(r)}
    assert not known("bending of the moon")
