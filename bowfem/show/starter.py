"""The design file that `bowfem new` writes: every key there is, explained."""

STARTER = """\
# A bow of flattened pipe, as it is to be made. Both limbs are alike.
# Every quantity carries its unit: "48 in", "1-1/4 in", "12 mm", "35 lbf", "6 deg", "2.9 GPa".
# Lines that start with # are comments; take the # away to use an optional key.

name = "My first bow"
notes = ""

[pipe]
size = "3/4 in Sch 40"       # bowfem pipes lists the sizes; or measure, instead of size:
# outer_diameter = "1.05 in"
# wall = "0.12 in"           # or weigh a length, instead of wall:
# mass_per_length = "0.21 lb/ft"
cut_length = "48 in"         # end to end

# [material]                 # left out: rigid PVC at 23 C
# law = "ramberg-osgood"     # or "linear", "saturating", "table"
# modulus = "2.9 GPa"
# reference_stress = "52 MPa"      # ramberg-osgood: strain s/E + offset (s/reference)^exponent
# offset_strain = "1.4 %"
# exponent = 5.5
# compression_ratio = 1.29
# yield_tension = "51 MPa"         # saturating needs both of these
# yield_compression = "66 MPa"
# points = [                       # table: a bending or tension test of your own
#   { strain = "1 %", stress = "27 MPa" },
#   { strain = "3 %", stress = "48 MPa" },
# ]
# poisson = 0.40
# density = "1.40 g/cm3"
# temperature = "23 C"             # of the limb in use

[handle]
length = "5 in"              # left round, half of it on each side of the centre
set = "0 deg"                # angle of the limbs, forward (reflex) is positive
# pivot = "0.52 in"          # pipe axis to the grip's pivot; left out: the pipe's radius

[limb]
taper = "straight"           # between marks: "straight" or "smooth"
marks = [                    # distance from the bow's centre, outer thickness pressed there
  { at = "4-1/2 in", thickness = "0.8 in" },
  { at = "23 in", thickness = "0.3 in" },
]
# bends = [                  # two of to, radius and angle; direction "forward" or "back"
#   { from = "18 in", radius = "4 in", angle = "30 deg", direction = "forward" },
# ]                          # in place of radius or angle: to = "20 in"

# [limb.tip]                 # a stiff tip: the section turned a quarter round
# edge_on_from = "20 in"
# transition = "1-1/2 in"

[nock]
inset = "3/4 in"             # end of the pipe to the string groove

[string]
material = "polyester"       # or "hmpe"
strands = 14
brace_height = "6 in"        # or the untensioned length between grooves, instead:
# length = "43.4 in"
# diameter = "0.08 in"       # left out: from the strands

[draw]
length = "28 in"
measure = "amo"              # to the pivot plus 1.75 in; "pivot": to the pivot
"""
