from bowfem.orders.advice import (
    Eased as Eased,
    Steadied as Steadied,
    inner_rod as inner_rod,
    needs_easing as needs_easing,
    what_eases as what_eases,
    what_steadies as what_steadies,
)
from bowfem.orders.calibration import (
    Learned as Learned,
    learn as learn,
)
from bowfem.orders.corrections import (
    Correction as Correction,
)
from bowfem.orders.fades import (
    FadeMove as FadeMove,
    fade_moves as fade_moves,
)
from bowfem.orders.levers import (
    Effect as Effect,
    Levers as Levers,
)
from bowfem.orders.margins import (
    Margins as Margins,
)
from bowfem.orders.measured import (
    Measurement as Measurement,
    measurements_from_file as measurements_from_file,
)
from bowfem.orders.misfit import (
    Suspect as Suspect,
)
from bowfem.orders.remembered import (
    REMEMBERED as REMEMBERED,
    Remembered as Remembered,
    learn_memory as learn_memory,
    with_memory as with_memory,
)
from bowfem.orders.sizing import (
    Freeing as Freeing,
    Sizing as Sizing,
    size as size,
)
from bowfem.orders.studies import (
    FIGURES as FIGURES,
    Study as Study,
    study as study,
)
from bowfem.orders.tolerances import (
    Plan as Plan,
    Spread as Spread,
    usual_spreads as usual_spreads,
)
from bowfem.orders.weight_band import (
    SURE as SURE,
    WeightBand as WeightBand,
)
