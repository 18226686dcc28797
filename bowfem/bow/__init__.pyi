from bowfem.bow.balance import (
    Balance as Balance,
    DrawDirection as DrawDirection,
)
from bowfem.bow.bracing import (
    SQUARE as SQUARE,
    BraceError as BraceError,
)
from bowfem.bow.bracing_both import (
    brace as brace,
    brace_both as brace_both,
)
from bowfem.bow.diary import (
    USUAL_DAY as USUAL_DAY,
    DiaryState as DiaryState,
    keep_diary as keep_diary,
)
from bowfem.bow.ending import (
    Ending as Ending,
    GivesWay as GivesWay,
)
from bowfem.bow.limb_model import (
    Families as Families,
    LimbModel as LimbModel,
    sections_at as sections_at,
    sleeve_law as sleeve_law,
    sleeve_thickness as sleeve_thickness,
)
from bowfem.bow.limb_states import (
    LimbStates as LimbStates,
)
from bowfem.bow.mesh import (
    element_counts as element_counts,
)
from bowfem.bow.mesh_error import (
    MeshError as MeshError,
)
from bowfem.bow.moving_bow import (
    Peak as Peak,
    Span as Span,
)
from bowfem.bow.nearby import (
    carried_over as carried_over,
    drawn_near as drawn_near,
    rest_near as rest_near,
    string_slope as string_slope,
)
from bowfem.bow.shot import (
    HEAVIEST_ARROW as HEAVIEST_ARROW,
    LIGHTEST_ARROW as LIGHTEST_ARROW,
    USUAL_ARROW_MASS as USUAL_ARROW_MASS,
    DryFire as DryFire,
    Shot as Shot,
    arrow_speed as arrow_speed,
    dry_fire as dry_fire,
    frequencies_at_brace as frequencies_at_brace,
    shoot as shoot,
)
from bowfem.bow.shot_states import (
    shot_as_walk as shot_as_walk,
)
from bowfem.bow.sideways import (
    limb_side_factors as limb_side_factors,
    limb_sideways as limb_sideways,
)
from bowfem.bow.spline import (
    SmoothCurve as SmoothCurve,
)
from bowfem.bow.states import (
    States as States,
    join as join,
)
from bowfem.bow.walking import (
    Walk as Walk,
    walk as walk,
)
