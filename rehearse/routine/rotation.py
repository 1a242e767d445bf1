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


def tipped(forward: float, left: float, turn: float) -> Array:
    """The frame tipped forward, then to the left, then turned to the right, in degrees."""
    cf, sf = math.cos(math.radians(forward)), math.sin(math.radians(forward))
    cl, sl = math.cos(math.radians(left)), math.sin(math.radians(left))
    pitch = np.array([[1.0, 0.0, 0.0], [0.0, cf, -sf], [0.0, sf, cf]])
    roll = np.array([[cl, sl, 0.0], [-sl, cl, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(pitch @ roll @ turned(turn))


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
    w, x, y, z = (float(v) for v in q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )
