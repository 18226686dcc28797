"""The walk along a list of controls."""

import math

import numpy as np

from bowfem._kernels.compiled import entry
from bowfem._kernels.mesh import new_mesh, new_work, share_loads, share_model, share_string
from bowfem._kernels.newton import BEYOND_TABLE, CONVERGED, SINGULAR, STEP_FLOOR, newton
from bowfem._kernels.state import load_state, report, save_state


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

    Each step is tried whole and cut in half when Newton fails, down to ``finest`` of it.
    ``predict``: extrapolate along the path. ``limit``: share of the law's reach at which to stop.
    Outputs carry one state a target; ``count`` (nt, 2): Newton iterations, substeps; ``hist``:
    norms of residual and step of the last Newton solve; ``tangent``: derivative of the last state.

    With ``control`` the controls are ``start + mu (targets[0] - start)`` with ``mu`` unknown, fixed
    by ``sum(ctrl * (x, y, psi of the nodes)) + ctrl[-1, 0] mu = level``: one Newton solve from
    ``state0``, never cut; ``tangent`` is then by ``level`` and its last entry is that of ``mu``.
    """
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    ne = model.h.shape[0]
    ns = state0.shape[0]
    mesh, old, flat, work = new_mesh(ne), new_mesh(ne), new_mesh(ne), new_work(model.reference)
    c, dc, unit, last_unit = np.zeros(4), np.zeros(4), np.zeros(4), np.zeros(4)
    # the two last states with their derivatives along the path, and the guess made from them
    s0, d0, s1, d1, guess = np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns)
    for i in range(ns):
        s1[i] = state0[i]
    sign = 0
    known = 0  # how many of the two have a derivative along the present direction
    gone = 0.0  # path length between the two
    for k in range(targets.shape[0]):
        length = dot = 0.0
        for i in range(4):
            c[i] = start[i] if k == 0 else targets[k - 1, i]
            dc[i] = targets[k, i] - c[i]
            length += dc[i] * dc[i]
        length = 1.0 if control else math.sqrt(length)  # mu counts in units of the whole change
        for i in range(4):
            unit[i] = dc[i] / length if length > 0.0 else 0.0
            dot += unit[i] * last_unit[i]
            last_unit[i] = unit[i]
        if dot < 1.0 - 1e-9:
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
            if predict and known == 2:  # cubic through two states and their derivatives
                y = 1.0 + ahead / gone
                h0 = (2.0 * y - 3.0) * y * y + 1.0
                w0, w1 = gone * y * (y - 1.0) ** 2, gone * y * y * (y - 1.0)
                for i in range(ns):
                    guess[i] = h0 * s0[i] + (1.0 - h0) * s1[i] + w0 * d0[i] + w1 * d1[i]
            elif predict and known == 1:
                for i in range(ns):
                    guess[i] = s1[i] + ahead * d1[i]
            else:
                for i in range(ns):
                    guess[i] = s1[i]
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
                if step < 0.2:
                    known = 0  # the extrapolation may be what fails
                if step < finest or control:
                    return (SINGULAR if status == SINGULAR else STEP_FLOOR), k, sign
                continue
            count[k, 1] += 1
            done = 1.0 if control else share
            for i in range(ns):
                s0[i], d0[i] = s1[i], d1[i]
            save_state(mesh, work, s1, d1)
            known = min(known + 1, 2)
            gone = ahead
            step *= 2.0
        for i in range(ns):
            state[k, i] = s1[i]
        for b in range(ne + 1):
            for i in range(3):
                react[k, b, i] = work.react[b, i]
        report(model, loads, string, mesh, work, c, point[k], scalar[k], contact[k])
        if scalar[k, 6] > limit:
            return BEYOND_TABLE, k, sign
    for i in range(ns):
        tangent[i] = d1[i]
    tangent[ns] = work.end[3]
    return CONVERGED, targets.shape[0], sign
