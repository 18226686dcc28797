from bowfem.design.checks import (
    AMO_ALLOWANCE as AMO_ALLOWANCE,
)
from bowfem.design.design import (
    Design as Design,
)
from bowfem.design.entries import (
    SLACK as SLACK,
)
from bowfem.design.fields import (
    Number as Number,
    Quantity as Quantity,
)
from bowfem.design.limb import (
    Bend as Bend,
    Limb as Limb,
    Mark as Mark,
    Overlay as Overlay,
    Sleeve as Sleeve,
    Tip as Tip,
)
from bowfem.design.numbers import (
    number_of as number_of,
    read_number as read_number,
    spelled_out as spelled_out,
)
from bowfem.design.parts import (
    Arrow as Arrow,
    BowString as BowString,
    DiaryEntry as DiaryEntry,
    Draw as Draw,
    Handle as Handle,
    Limits as Limits,
    MaterialChoice as MaterialChoice,
    Nock as Nock,
    PipeChoice as PipeChoice,
    Point as Point,
    Shooting as Shooting,
)
from bowfem.design.rewriting import (
    rewritten as rewritten,
)
from bowfem.design.shape import (
    LimbShape as LimbShape,
)
from bowfem.design.side import (
    Side as Side,
    limb_text as limb_text,
)
from bowfem.design.toml import (
    parse_toml as parse_toml,
    read_text as read_text,
    write_text as write_text,
)
