"""The walk along a list of controls."""

import math

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.newton import BEYOND_TABLE, CONVERGED, SINGULAR, STEP_FLOOR, newton
from bowfem._kernels.records import (
    SHARE,
    new_mesh,
    new_work,
    share_loads,
    share_model,
    share_string,
)
from bowfem._kernels.state import load_state, report, save_state

#: Turn, rad, below which a step is never too long; where nothing is known of the path's direction.
ASTRAY, UNKNOWN = 1e-4, 0.2


@kernel
def aim(start, target, control, c, dc, unit):
    """Set where a step begins, its change of the controls and their rate; return (length, turn).

    Steps are as long as the change of the controls; with ``control`` the path parameter counts in
    units of the whole change. ``turn``: the cosine between this rate and the last.
    """
    length = turn = 0.0
    for i in range(4):
        c[i] = start[i]
        dc[i] = target[i] - c[i]
        length += dc[i] * dc[i]
    length = 1.0 if control else math.sqrt(length)
    for i in range(4):
        last = unit[i]
        unit[i] = dc[i] / length if length > 0.0 else 0.0
        turn += unit[i] * last
    return length, turn


@kernel
def extrapolate(guess, known, ahead, gone, s0, d0, s1, d1):
    """Guess a state: a cubic through two with their rates, a line from one, or that one."""
    if known == 2:
        y = 1.0 + ahead / gone
        h0 = (2.0 * y - 3.0) * y * y + 1.0
        w0, w1 = gone * y * (y - 1.0) ** 2, gone * y * y * (y - 1.0)
        for i in range(guess.shape[0]):
            guess[i] = h0 * s0[i] + (1.0 - h0) * s1[i] + w0 * d0[i] + w1 * d1[i]
        return
    for i in range(guess.shape[0]):
        guess[i] = s1[i] + (ahead * d1[i] if known == 1 else 0.0)


@kernel
def put(to, values):
    """Copy a vector; a loop compiles far faster than a slice."""
    for i in range(values.shape[0]):
        to[i] = values[i]


@kernel
def astray(guess, last, rate, ahead, mesh, known, ne):
    """Say whether a state lies far from where the path was headed, as on another branch.

    Headed by the guess, and by the path's direction at the last state alone: a cubic through two
    states may itself shoot over on to another branch.
    """
    off = against = moved = 0.0
    for e in range(ne + 1):
        i = (P + 1) * e if e < ne else (P + 1) * ne - 1
        turn = mesh.psi[mesh.first[e], 0] if e < ne else mesh.psi[mesh.active - 1, P]
        off = max(off, abs(turn - guess[i]))
        moved = max(moved, abs(turn - last[i]))
        against = max(against, abs(turn - last[i] - ahead * rate[i]))
    if not known:
        return moved > UNKNOWN
    return moved > ASTRAY and (off > 0.5 * moved or against > moved)


@entry
def walk(
    model_,
    loads_,
    string_,
    targets,
    start,
    state0,
    predict,
    tol,
    most,
    finest,
    careful,
    limit,
    control,
    ctrl,
    level,
    mu,
    state,
    tangent,
    point,
    scalar,
    contact,
    react,
    count,
    hist,
):
    """Follow the controls ``targets`` (nt, 4) from ``start``; return (status, reached, sign).

    Each step is tried whole and cut in half when Newton fails, down to ``finest`` of it. It is also
    cut, with ``careful`` (1 or -1, the determinant's sign at the start), where it ends far from
    where it was headed or where the sign turns: a step too long lands on another branch.
    ``predict``: extrapolate along the path. ``limit``: share of the law's reach at which to stop.
    Outputs carry one state a target; ``count`` (nt, 3): Newton iterations, substeps, determinant's
    sign; ``hist``: norms of residual and step of the last Newton solve; ``tangent``: derivative of
    the last state.

    With ``control`` the controls are ``start + mu (targets[0] - start)`` with ``mu`` unknown, fixed
    by ``sum(ctrl * (x, y, psi of the nodes)) + ctrl[-1, 0] mu = level``: one Newton solve from
    ``state0``, never cut; ``tangent`` is then by ``level`` and its last entry is that of ``mu``.
    """
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    ne = model.h.shape[0]
    ns = state0.shape[0]
    mesh, old, flat, work = new_mesh(ne), new_mesh(ne), new_mesh(ne), new_work(model.reference)
    c, dc, unit = np.zeros(4), np.zeros(4), np.zeros(4)
    # the two last states with their derivatives along the path, and the guess made from them
    s0, d0, s1, d1, guess = np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns)
    put(s1, state0)
    sign, known_sign = 0, careful
    known = 0  # how many of the two have a derivative along the present direction
    gone = 0.0  # path length between the two
    for k in range(targets.shape[0]):
        length, turn = aim(start if k == 0 else targets[k - 1], targets[k], control, c, dc, unit)
        if turn < 1.0 - 1e-9:
            known = 0
        # a step of no length first gives the derivative in a new direction
        step = 0.0 if known == 0 and predict and k > 0 and length > 0.0 else 1.0
        done = 0.0
        while done < 1.0:
            step = min(step, 1.0 - done)
            share = 1.0 if done + step > 1.0 - 1e-12 else done + step
            if control:
                share = mu[0]
            for i in range(4):
                c[i] = targets[k, i] - (1.0 - share) * dc[i]
            ahead = step * length
            extrapolate(guess, known if predict else 0, ahead, gone, s0, d0, s1, d1)
            load_state(model, mesh, guess)
            status, its, sign = newton(
                model,
                loads,
                string,
                mesh,
                old,
                flat,
                work,
                control,
                ctrl,
                level,
                c,
                unit,
                mu,
                tol,
                most,
                hist,
            )
            count[k, 0] += its
            if step == 0.0:
                step = 1.0
                if status == CONVERGED:
                    save_state(mesh, work, s1, d1)
                    known = 1
                continue
            if status != CONVERGED:
                step *= 0.5
                if step < 0.2 and careful == 0:
                    known = 0  # the extrapolation may be what fails
                if step < finest or control:
                    return (SINGULAR if status == SINGULAR else STEP_FLOOR), k, sign
                continue
            if careful and step > finest:
                turned = (known_sign != 0) and (sign != known_sign)
                if turned or (
                    (k > 0 or done > 0.0) and astray(guess, s1, d1, ahead, mesh, known, ne)
                ):
                    step *= 0.5
                    continue
            known_sign = sign
            count[k, 1] += 1
            done = 1.0 if control else share
            put(s0, s1)
            put(d0, d1)
            save_state(mesh, work, s1, d1)
            known = min(known + 1, 2)
            gone = ahead
            step *= 2.0
        put(state[k], s1)
        count[k, 2] = sign
        for e in range(ne + 1):
            put(react[k, e], work.react[e])
        report(model, loads, string, mesh, work, c, point[k], scalar[k], contact[k])
        if scalar[k, SHARE] > limit:
            return BEYOND_TABLE, k, sign
    put(tangent, d1)
    tangent[ns] = work.mu_rate
    return CONVERGED, targets.shape[0], sign
