from bowfem.findings.bending import (
    HotSpot as HotSpot,
    hot_spots as hot_spots,
)
from bowfem.findings.lengths import (
    TRADE_ALLOWANCE as TRADE_ALLOWANCE,
    Box as Box,
    Lengths as Lengths,
)
from bowfem.findings.section_state import (
    SectionState as SectionState,
)
from bowfem.findings.string_cut import (
    TAIL as TAIL,
)
from bowfem.findings.string_fit import (
    Bridge as Bridge,
    Loop as Loop,
)
from bowfem.findings.string_run import (
    ContactPiece as ContactPiece,
)
from bowfem.findings.summary import (
    DrawTable as DrawTable,
    Summary as Summary,
    allowance as allowance,
    draw_text as draw_text,
    even_draws as even_draws,
    place_text as place_text,
    spot_text as spot_text,
    summarize as summarize,
    warnings as warnings,
)
from bowfem.findings.tuning import (
    Tuning as Tuning,
)
