from bowfem.rod.branches import (
    Branches as Branches,
)
from bowfem.rod.branching import (
    CriticalPoint as CriticalPoint,
    critical_point as critical_point,
    flexibility as flexibility,
    sensitivity as sensitivity,
    switch_branch as switch_branch,
    unstable_modes as unstable_modes,
)
from bowfem.rod.controlled import (
    displace as displace,
    follow_arc_length as follow_arc_length,
)
from bowfem.rod.engine import (
    Pulling as Pulling,
    Settings as Settings,
    follow as follow,
    pull as pull,
)
from bowfem.rod.frames import (
    Frame as Frame,
    FramePath as FramePath,
    Joint as Joint,
)
from bowfem.rod.loads import (
    Force as Force,
    LineLoad as LineLoad,
    Pressure as Pressure,
    Spring as Spring,
    Support as Support,
    clamp as clamp,
    guide as guide,
    pin as pin,
)
from bowfem.rod.motion import (
    Instant as Instant,
    Motion as Motion,
    MovingRod as MovingRod,
    let_go as let_go,
    natural_frequencies as natural_frequencies,
)
from bowfem.rod.relaxation import (
    relax as relax,
)
from bowfem.rod.shape import (
    MomentTable as MomentTable,
    Rod as Rod,
)
from bowfem.rod.sideways import (
    SideResponse as SideResponse,
    Sideways as Sideways,
    side_factors as side_factors,
)
from bowfem.rod.states import (
    Held as Held,
    Path as Path,
    Stop as Stop,
    joined as joined,
    one_state as one_state,
)
from bowfem.rod.stations import (
    STATIONS as STATIONS,
    TURN_PLACES as TURN_PLACES,
    at_halves as at_halves,
    element_ends as element_ends,
    ends as ends,
    station_lengths as station_lengths,
)
from bowfem.rod.string import (
    TautString as TautString,
    rest_length as rest_length,
    taut_at_rest as taut_at_rest,
)
from bowfem.rod.transfer import (
    transferred as transferred,
)
