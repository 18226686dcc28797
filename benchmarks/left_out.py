"""What references.json holds and no case computes, and why: tables, then parts of tables."""

PLANE = "out of the plane, with twist of its own: the rod is planar"
THEORY = "answer of an approximate theory; the exact ring of the same table is computed"

#: Whole tables by case and name.
TABLES = {
    ("05-ext", "data"): PLANE,
    ("09-ext", "data"): f"lateral and torsional buckling, {PLANE}",
    ("13", "bathe_bolourchi_45"): f"{PLANE}; its arc with the force in plane is c05_planar_arc",
    ("05", "cowper"): "factors of a mean displacement; the rod's are of energy (c05_shear_factor)",
    ("05", "winkler_bach"): "solid sections: stress is computed in walls of pipes only",
    ("09", "bredt"): "a formula, within c09_tubes and c09_torsion",
    ("10", "brazier_classic"): THEORY,
    ("10", "brazier_quadratic_retained"): THEORY,
    ("10", "plane_strain"): "a note",
    ("10", "local_buckling_note"): "wrinkling of the wall is not modelled",
    ("12", "lewis_monasa_material"): "two exponents, of which c12_power_law_steep has the rows",
}

#: Parts of tables that are otherwise in.
PARTS = {
    "06 depth_linear, place of the largest stress": "where M / W peaks: no solution takes part",
    "09 elliptical_tube, two ellipses": "a wall of varying thickness; the constant wall is in",
    "09 plastic moduli, thin-wall and Bredt columns": "formulas beside the exact ones",
    "10 exact path, I, side curvature and U": "follow from m, or are not among the results",
    "12 rectangle, diamond": "no such sections; the rectangle's law drives c12_plastic_cantilever",
    "12 elastoplastic cantilever at collapse": "infinite curvature: beyond any table",
    "13 cantilever_end_moment": "a pair of dead forces, which the table does not say",
    "13 uniform cantilever, modes 4 and 5; tip mass, mode 2": "three modes show the method",
    "frames with a hinge or a branch": "a rod is one line: joined at its ends or at rigid corners",
}
