"""Polynomial basis of one rod element, as constants that the compiled kernels read.

Rotation is a polynomial of degree ``P`` through ``P + 1`` Gauss-Lobatto nodes; strains, forces and
the tangent live at ``P`` Gauss points. With as many Gauss points as the degree, the element is the
Gauss collocation of the rod equations, whose nodal values converge at order ``2 P``
(de Boor and Swartz, SIAM J. Numer. Anal. 10 (1973) 582-606; from memory).
"""

import numpy as np
from numpy.polynomial import Polynomial, legendre

P = 4


def _lagrange(nodes):
    """Monomial coefficients of the Lagrange polynomials, one row a node, lowest power first."""
    rows = []
    for i, node in enumerate(nodes):
        others = np.delete(nodes, i)
        poly = Polynomial.fromroots(others)
        rows.append((poly / poly(node)).coef)
    return np.array(rows)


_x, _w = legendre.leggauss(P)
GAUSS_X = 0.5 * (_x + 1.0)
GAUSS_W = 0.5 * _w
_inner = legendre.Legendre.basis(P).deriv().roots()
NODE_X = 0.5 * (np.concatenate(([-1.0], np.sort(_inner.real), [1.0])) + 1.0)

NODE_COEF = _lagrange(NODE_X)  # (P+1, P+1) rotation shape functions
GAUSS_COEF = _lagrange(GAUSS_X)  # (P, P) interpolation through the Gauss points

_node = [Polynomial(c) for c in NODE_COEF]
_gauss = [Polynomial(c) for c in GAUSS_COEF]
SHAPE = np.array([[p(x) for p in _node] for x in GAUSS_X])  # (P, P+1)
SLOPE = np.array([[p.deriv()(x) for p in _node] for x in GAUSS_X])  # (P, P+1)
# integral from the element's start to Gauss point g of the j-th Gauss polynomial
CUMUL = np.array([[p.integ()(x) for p in _gauss] for x in GAUSS_X])  # (P, P)
CUMUL_COEF = np.array([p.integ().coef for p in _gauss])  # (P, P+1)
# derivative at Gauss point g of the j-th Gauss polynomial
GAUSS_SLOPE = np.array([[p.deriv()(x) for p in _gauss] for x in GAUSS_X])  # (P, P)
# position, rotation and what lives at the Gauss points, at the places contact is sampled at
SAMPLES = 8
_at = np.arange(SAMPLES) / SAMPLES
CUMUL_AT = np.array([[p.integ()(x) for p in _gauss] for x in _at])  # (SAMPLES, P)
GAUSS_AT = np.array([[p(x) for p in _gauss] for x in _at])  # (SAMPLES, P)
NODE_AT = np.array([[p(x) for p in _node] for x in _at])  # (SAMPLES, P+1)
# a load at Gauss point k seen as internal force at Gauss point g
LOAD_TO_FORCE = GAUSS_W[None, :] * CUMUL.T / GAUSS_W[:, None]  # (P, P)
