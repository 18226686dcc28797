"""The design file that `bowfem new` writes: every key there is, explained."""

STARTER = """\
# A bow of flattened pipe, as it is to be made. Both limbs are alike unless [lower] says otherwise.
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
# plastic = "rigid PVC"            # with a law of its own: what its warmth does, where known
# temperature = "23 C"             # of the limb in use
# stiffness = 1.05                 # all stresses over those of the law: bowfem learn finds it
# fading = 0.9                     # of what it loses after the first minute: likewise

[handle]
length = "5 in"              # left round, half of it on each side of the centre
set = "0 deg"                # angle of the limbs, forward (reflex) is positive
# fade = "2 in"              # from round to flat; left out: the whole way to the first mark
# fade_shape = "rounded"     # its ends; or "straight", a wedge
# bump = "middle"            # where the round handle stands out: "middle", "back" or "belly"
# pivot = "0.52 in"          # pipe axis to the grip's pivot; left out: the pipe's radius
# offset = "1 in"            # middle of the handle, the bow's centre, above the middle of the pipe
# pivot_height = "0 in"      # grip's pivot above the bow's centre
# arrow_height = "1 in"      # arrow pass above the pivot

[limb]
taper = "straight"           # between marks: "straight" or "smooth"
marks = [                    # distance from the bow's centre, outer thickness pressed there
  { at = "4-1/2 in", thickness = "0.8 in" },
  { at = "23 in", thickness = "0.3 in" },
]
# bends = [                  # two of to, radius and angle; direction "forward" or "back"
#   { from = "18 in", radius = "4 in", angle = "30 deg", direction = "forward" },
# ]                          # in place of radius or angle: to = "20 in"

# sleeves = [                # a pipe over or inside, or (no wall) a rod inside; or by its size
#   { from = "0 in", to = "6 in", outer_diameter = "18 mm", fit = "sliding" },
# ]                          # fit "bonded" or "sliding"; modulus and density of another material
# overlays = [               # a strip on the back (thickness and modulus), a wrap (mass alone)
#   { from = "20 in", to = "23 in", thickness = "2 mm", modulus = "9 GPa" },
# ]

# [limb.tip]                 # a stiff tip: the section turned a quarter round
# edge_on_from = "20 in"
# transition = "1-1/2 in"

# [lower]                    # the lower limb, where it is another: the keys of [limb]

[nock]
inset = "3/4 in"             # end of the pipe to the string groove
# lower_inset = "3/4 in"     # of the lower limb, where it differs
# width = "3/4 in"           # of a tip filed narrower there; the loops get shorter
# filed = "1 in"             # from the groove inward to the limb's full width

[string]
material = "polyester"       # or "hmpe"
strands = 14
brace_height = "6 in"        # or the untensioned length between grooves, instead:
# length = "43.4 in"
# diameter = "0.08 in"       # left out: from the strands
# nock_height = "1/8 in"     # nock point above square with the arrow pass

[draw]
length = "28 in"
measure = "amo"              # to the pivot plus 1.75 in; "pivot": to the pivot

# [limits]
# longest = "52 in"          # longest side of the parcel the unstrung bow goes in
# length_and_girth = "84 in" # that side and the way round it, together
# wrapping = "1/2 in"        # what card and padding add on every side

# [arrow]                    # for `bowfem shoot`
# mass = "420 gr"            # with its point; left out: 9 grains a pound of the bow's weight
# clip = "10 N"              # force with which its nock holds on to the string

# [shot]
# strung = "10 min"          # how long it has been strung before
# draw_time = "2 s"          # how long the draw takes, and how long it is held
# hold = "3 s"
# loss_tangent = 0.02        # of the plastic in a shot; 0 leaves its memory out
# drag = "yes"               # of the air on limbs and string
# hand_mass = "1.5 kg"       # free to move; left out: the grip is held fast

# [[diary]]                  # for `bowfem diary`: what is done with it, in order
# what = "strung"            # "strung", "drawn" (held so long, so many times) or "rest"
# for = "8 h"
# times = 30
# every = "1 min"
# temperature = "30 C"
"""

#: Lines of the starter that make it another kind of bow, as they stand there and made so.
TURNED_ON = {
    "straight": (),
    "tips": ("# [limb.tip]", "# edge_on_from", "# transition"),
    "curls": (),
}
BENDS = ("# bends = [", "#   { from = ", "# ]                          # in place of")


def starter(kind: str) -> str:
    """Return the starter's text with what this kind of bow needs turned on."""
    wanted = (*TURNED_ON[kind], *(() if kind == "straight" else BENDS))
    rows, done = [], set()
    for row in STARTER.split("\n"):
        begins = next((text for text in wanted if row.startswith(text) and text not in done), None)
        if begins is not None:
            done.add(begins)
            row = row.removeprefix("# ") if begins != BENDS[1] else f"  {row[1:].lstrip()}"
        rows.append(row)
    return "\n".join(rows)
