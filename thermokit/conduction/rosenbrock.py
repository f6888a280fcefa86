"""Rodas4P: an L-stable, stiffly accurate Rosenbrock method of order 4 with dense output, no Newton iteration.

For y' = f(t, y) with the exact Jacobian J = df/dy, step h, in the transformed form (Hairer & Wanner, *Solving Ordinary
Differential Equations II*, 2nd ed., section IV.7, eq. 7.25 and 7.26):

    (I/(h g) - J) U_i = f(t + alpha_i h, y + sum_j a_ij U_j) + sum_j (c_ij/h) U_j + h gamma_i df/dt,   i = 1..6
    y1 = y + sum_i m_i U_i,     error = U_6
    y(t + s h) = (1 - s) y + s (y1 + (1 - s)(sum_j d1_j U_j + s sum_j d2_j U_j)),    0 <= s <= 1

Coefficients: G. Steinebach, *Order-reduction of ROW-methods for DAEs and method of lines applications*, Preprint 1741,
TH Darmstadt (1995); figures as held in public solver libraries. ``tests/order`` verifies the order that they show.
The method keeps linear invariants exactly, which is why the heat balance closes to round-off: see :data:`QUADRATURE`.
"""

from __future__ import annotations

import numpy as np

GAMMA = 0.25
STAGES = 6
ORDER = 4

A = np.zeros((6, 6))
A[1, :1] = [3.0]
A[2, :2] = [1.831036793486759, 0.4955183967433795]
A[3, :3] = [2.304376582692669, -0.05249275245743001, -1.176798761832782]
A[4, :4] = [-7.170454962423024, -4.741636671481785, -16.31002631330971, -1.062004044111401]
A[5, :5] = [-7.170454962423024, -4.741636671481785, -16.31002631330971, -1.062004044111401, 1.0]

C = np.zeros((6, 6))
C[1, :1] = [-12.0]
C[2, :2] = [-8.791795173947035, -2.207865586973518]
C[3, :3] = [10.81793056857153, 6.780270611428266, 19.53485944642410]
C[4, :4] = [34.19095006749676, 15.49671153725963, 54.74760875964130, 14.16005392148534]
C[5, :5] = [34.62605830930532, 15.30084976114473, 56.99955578662667, 18.40807009793095, -5.714285714285717]

# stage times t + ALPHA h, and + h GAMMA_TIME df/dt
ALPHA = np.array([0.0, 0.75, 0.21, 0.63, 1.0, 1.0])
GAMMA_TIME = np.array([0.25, -0.5, -0.023504, -0.0362, 0.0, 0.0])

M = np.array([-7.170454962423024, -4.741636671481785, -16.31002631330971, -1.062004044111401, 1.0, 1.0])

DENSE_1 = np.array([25.09876703708589, 11.62013104361867, 28.49148307714626, -5.664021568594133, 0.0, 0.0])
DENSE_2 = np.array(
    [1.638054557396973, -0.7373619806678748, 8.477918219238990, 15.99253148779520, -1.882352941176471, 0.0]
)

# A quantity Q' = q(t, y) carried along by the method moves in a step by h sum_i w_i (q_i + (dq/dy) U_i + h gamma_i dq/dt):
# solving the (scalar) stage equations of Q once for all gives w = m^T g (I - g C)^-1. A linear invariant of (y, Q) is then
# kept to round-off, whatever the step.
QUADRATURE = M @ (GAMMA * np.linalg.inv(np.eye(6) - GAMMA * C))
