"""Directions and rotations of bones: small helpers over arrays of shape (3,) and (3, 3).

Conventions: frames are 3 × 3 with the columns left, up, forward; degrees outside, unit vectors
and unit quaternions (w, x, y, z) inside.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from rehearse.routine.bones import Vector

Array = npt.NDArray[np.float64]


def own(vector: Vector, sign: float) -> Array:
    """A vector (out, up, forward) of one side as (left, up, forward); `sign` +1 left, −1 right."""
    return np.array([sign * vector[0], vector[1], vector[2]])


def turned(turn: float) -> Array:
    """The frame turned `turn` degrees to the right about the upright."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])


def spun(vector: Vector, degrees: float) -> Vector:
    """A vector turned `degrees` to the right about the upright: `turned` in plain numbers."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x, y, z = vector
    return (c * x - s * z, y, s * x + c * z)


def tipped(forward: float, left: float, turn: float) -> Array:
    """The frame tipped forward, then to the left, then turned to the right, in degrees."""
    cf, sf = math.cos(math.radians(forward)), math.sin(math.radians(forward))
    cl, sl = math.cos(math.radians(left)), math.sin(math.radians(left))
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    # The product of the three matrices, written out: NumPy takes four times as long for it.
    return np.array(
        [
            [cl * c, sl, -cl * s],
            [-cf * sl * c - sf * s, cf * cl, cf * sl * s - sf * c],
            [cf * s - sf * sl * c, sf * cl, sf * sl * s + cf * c],
        ]
    )


def rotate_toward(a: Array, b: Array, s: float) -> Array:
    """Part `s` of the shortest rotation from frame `a` to frame `b` (slerp of quaternions)."""
    p, q = quaternion(a), quaternion(b)
    cosine = float(p @ q)
    if cosine < 0:
        q, cosine = -q, -cosine
    angle = math.acos(min(1.0, cosine))
    if angle < 1e-6:
        return b
    mixed = (math.sin((1 - s) * angle) * p + math.sin(s * angle) * q) / math.sin(angle)
    return matrix(mixed)


def across(vector: Array, axis: Array) -> Array:
    """Unit vector of the part of `vector` at right angles to the unit vector `axis`."""
    rest = vector - (vector @ axis) * axis
    if float(rest @ rest) < 1e-9:
        rest = cross(axis, np.array([0.577, 0.577, 0.577]))
    return unit(rest)


def unit(vector: Array) -> Array:
    """The vector at length 1."""
    return np.asarray(vector / math.sqrt(vector @ vector))


def cross(a: Array, b: Array) -> Array:
    """The vector product of two vectors, shape (3,): NumPy's own takes ten times as long."""
    (x, y, z), (u, v, w) = a.tolist(), b.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def vector_of(array: Array) -> Vector:
    """Plain floats of an array of shape (3,)."""
    return (float(array[0]), float(array[1]), float(array[2]))


def quaternion(m: Array) -> Array:
    """Unit quaternion (w, x, y, z) of a rotation, by the largest of its four candidates."""
    xx, yy, zz = float(m[0, 0]), float(m[1, 1]), float(m[2, 2])
    squares = np.array([1 + xx + yy + zz, 1 + xx - yy - zz, 1 - xx + yy - zz, 1 - xx - yy + zz])
    k = int(np.argmax(squares))
    wx, wy, wz = m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]
    xy, xz, yz = m[1, 0] + m[0, 1], m[0, 2] + m[2, 0], m[2, 1] + m[1, 2]
    rows = (
        (squares[0], wx, wy, wz),
        (wx, squares[1], xy, xz),
        (wy, xy, squares[2], yz),
        (wz, xz, yz, squares[3]),
    )
    return unit(np.array(rows[k], dtype=np.float64))


def matrix(q: Array) -> Array:
    """The rotation of a unit quaternion (w, x, y, z)."""
    return np.array(rows_of(*q.tolist()))


def rows_of(w: float, x: float, y: float, z: float) -> tuple[Vector, Vector, Vector]:
    """The rows of the rotation of a unit quaternion, as plain numbers."""
    return (
        (1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)),
        (2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)),
        (2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)),
    )


def matrices(q: Array) -> Array:
    """The rotations, shape (n, 3, 3), of unit quaternions, shape (n, 4)."""
    w, x, y, z = q.T
    xx, yy, zz, xy, xz, yz = x * x, y * y, z * z, x * y, x * z, y * z
    wx, wy, wz = w * x, w * y, w * z
    result = np.empty((len(q), 3, 3))
    result[:, 0, 0] = 1 - 2 * (yy + zz)
    result[:, 0, 1] = 2 * (xy - wz)
    result[:, 0, 2] = 2 * (xz + wy)
    result[:, 1, 0] = 2 * (xy + wz)
    result[:, 1, 1] = 1 - 2 * (xx + zz)
    result[:, 1, 2] = 2 * (yz - wx)
    result[:, 2, 0] = 2 * (xz - wy)
    result[:, 2, 1] = 2 * (yz + wx)
    result[:, 2, 2] = 1 - 2 * (xx + yy)
    return result
