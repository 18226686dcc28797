from bowfem.section.built_up import (
    at_stations as at_stations,
    gathered as gathered,
    nested as nested,
    put_stations as put_stations,
    solid_rod as solid_rod,
    stacked as stacked,
    with_strip as with_strip,
)
from bowfem.section.curled import (
    CurledFamily as CurledFamily,
    curled_response as curled_response,
    family_of as family_of,
)
from bowfem.section.dangers import (
    PVC_DANGERS as PVC_DANGERS,
)
from bowfem.section.fade import (
    FadeFactor as FadeFactor,
    fade_factor as fade_factor,
)
from bowfem.section.family import (
    SectionFamily as SectionFamily,
    blend as blend,
)
from bowfem.section.family_range import (
    CurledBetween as CurledBetween,
    FamilyRange as FamilyRange,
)
from bowfem.section.law import (
    PROVENANCE as PROVENANCE,
    Figure as Figure,
    Law as Law,
    check_law as check_law,
)
from bowfem.section.material import (
    RIGID_PVC as RIGID_PVC,
    Linear as Linear,
    RambergOsgood as RambergOsgood,
    Saturating as Saturating,
)
from bowfem.section.memory import (
    MEMORY as MEMORY,
    Memory as Memory,
    plastic_memory as plastic_memory,
)
from bowfem.section.outline import (
    Outline as Outline,
    circle as circle,
    ellipse as ellipse,
    onset_thickness as onset_thickness,
    pressed as pressed,
    racetrack as racetrack,
)
from bowfem.section.ovalising import (
    ovalising_response as ovalising_response,
)
from bowfem.section.pipe import (
    PIPES as PIPES,
    Pipe as Pipe,
    PipeSize as PipeSize,
)
from bowfem.section.plastics import (
    PLASTICS as PLASTICS,
    PVC_U as PVC_U,
    Plastic as Plastic,
    plastic as plastic,
)
from bowfem.section.response import (
    BendingCurve as BendingCurve,
    SectionResponse as SectionResponse,
    moment_curvature as moment_curvature,
    section_response as section_response,
)
from bowfem.section.stress import (
    FibreStress as FibreStress,
    WallStress as WallStress,
    fibre_stress as fibre_stress,
    read_on_knots as read_on_knots,
    residual_curvature as residual_curvature,
    wall_stress as wall_stress,
)
from bowfem.section.tabulated import (
    Tabulated as Tabulated,
)
