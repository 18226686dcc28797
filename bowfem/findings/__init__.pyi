from bowfem.findings.bending import (
    HotSpot as HotSpot,
    hot_spot_table as hot_spot_table,
    hot_spots as hot_spots,
)
from bowfem.findings.crease import (
    Crease as Crease,
)
from bowfem.findings.diary import (
    NOT_PROMISED as NOT_PROMISED,
    PROMISED as PROMISED,
    Diary as Diary,
)
from bowfem.findings.draws import (
    draw_table as draw_table,
)
from bowfem.findings.edge import (
    EdgeTension as EdgeTension,
)
from bowfem.findings.findings import (
    Findings as Findings,
)
from bowfem.findings.lengths import (
    TRADE_ALLOWANCE as TRADE_ALLOWANCE,
    Box as Box,
    Lengths as Lengths,
)
from bowfem.findings.life import (
    NO_PROMISE as NO_PROMISE,
    Life as Life,
    ranked as ranked,
)
from bowfem.findings.line import (
    Column as Column,
    DrawLength as DrawLength,
    Figure as Figure,
    Line as Line,
    Place as Place,
    Table as Table,
    Warned as Warned,
    plain as plain,
    recorded as recorded,
)
from bowfem.findings.section_state import (
    SectionState as SectionState,
)
from bowfem.findings.shot import (
    Shots as Shots,
)
from bowfem.findings.sideways import (
    FLIPS as FLIPS,
    SideStability as SideStability,
    moved_sideways as moved_sideways,
    taken_at_brace as taken_at_brace,
)
from bowfem.findings.string_cut import (
    TAIL as TAIL,
)
from bowfem.findings.string_fit import (
    Bridge as Bridge,
    Loop as Loop,
)
from bowfem.findings.string_follow import (
    StringFollow as StringFollow,
)
from bowfem.findings.string_run import (
    ContactPiece as ContactPiece,
    pieces_at as pieces_at,
)
from bowfem.findings.tillering import (
    Tillering as Tillering,
)
from bowfem.findings.tuning import (
    Tuning as Tuning,
    fade_gaps as fade_gaps,
)
